/* Predictive: light such that no limited place will pass its limit in the coming period.
 *
 * The firmware knows what it drives. From the duties driven so far, low-passed by a few lags, it
 * tells how far each place (a junction, a housing) lies above the reading, and from the requests
 * how much further the light to come will lift it. The limit L solves, for the hottest place,
 *
 *   end - (reading + rise + L * now) = L * band        0 <= L <= 1, not below floor
 *
 * so light falls on a line from 1 to 0 over the last band below end. What the light will do is
 * solved for, not fed back; one code of the reading moves the light by that code / (band + now).
 *
 * Memory, in words of Q31: what was driven, low-passed, [channel][lag], and last what is known
 * since the start: as long as that is below 1, the heat from before may add up to unsure. */
#ifndef PREDICTIVE_H
#define PREDICTIVE_H

#include "derate.h"

/* Share of a difference that goes by in a step: mantissa / 2^(16 + shift). Stalls no further from
 * its target than 2^(16 + shift) / mantissa of 2^31. */
struct derate_lag {
    uint16_t mantissa; /* not 0 */
    uint8_t shift;     /* 0..20 */
};

/* Of each place, rises at full duty in 0.01 K: the sums of now + band, and of all gains without
 * sign + unsure, are at most 65535 and 32767. */
struct derate_policy {
    const int16_t *end_centi_c;      /* [place]: where light ends */
    const uint16_t *now_centi_k;     /* [place][channel]: within the coming step */
    const int16_t *gain_centi_k;     /* [place][channel][lag]: from what was driven */
    const uint16_t *unsure_centi_k;  /* [place]: from what was driven before the start, at most */
    const struct derate_lag *lag;    /* [lag], and one more: how what is unsure fades */
    uint8_t places;                  /* 1..255 */
    uint8_t channels;                /* as in derate_settings */
    uint8_t lags;                    /* 1..255 */
    uint16_t band_centi_k;           /* not 0 */
    uint16_t floor_q15;              /* 0..32768: lowest limit */
};

#endif
