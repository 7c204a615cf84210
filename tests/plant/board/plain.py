"""Closed forms as textbooks write them, slow to converge, to compare the quick ones with."""

import math

import numpy as np


def passed(wave, medium):
    """Temperature at the face for a heat flow of one wave number along it [m^2 K/W]."""
    stretched = wave * math.sqrt(medium.along_w_per_m_k / medium.across)
    flat = np.tanh(stretched * medium.thickness_m)
    film = medium.across * stretched / medium.film_w_per_m2_k
    return (flat + film) / (1 + film * flat) / (medium.across * stretched)
