"""Controllers in C as a user might write them, for tests; all invented."""

import pytest

from derate.firmware.image import Image
from derate.firmware.processor import Processor
from derate.firmware.target import TARGETS, missing
from derate.firmware.target_build import build_image

SHELL = """
#include <stdint.h>
#include "controller.h"
struct state {{ {members} }};
uint16_t controller_size(void) {{ return sizeof(struct state); }}
void controller_start(void *memory) {{ struct state *s = memory; (void)s; {start} }}
uint32_t controller_step(void *memory, const uint16_t *codes, const uint16_t *requests,
                         uint16_t *duties)
{{
    struct state *s = memory;
    (void)s; (void)codes; (void)requests;
    {step}
}}
"""
PLAIN = "duties[0] = requests[0]; duties[1] = requests[1]; return (uint32_t)requests[0] << 16;"


def own_c(step: str = PLAIN, *, members: str = "uint32_t ticks;", start: str = "") -> str:
    """The text of a controller for one sensor and two channels with this body of a step."""
    return SHELL.format(members=members, start=start, step=step)


def needed(name: str) -> None:
    """Skip a test where this machine cannot emulate the target."""
    if (lacking := missing(TARGETS[name])) is not None:
        pytest.skip(lacking)


def image_for(folder, name: str, text: str) -> Image:
    """The program of a controller's text for a target."""
    needed(name)
    file = folder / "own.c"
    file.write_text(text, encoding="utf-8")
    return build_image(TARGETS[name], [file], {})


def processor_of(folder, name: str, text: str) -> Processor:
    """That program on its core, with one sensor and two channels."""
    from derate.firmware.emulated import processor_for

    return processor_for(image_for(folder, name, text), TARGETS[name], 1, 2)
