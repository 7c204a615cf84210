/* Steps: any number of levels. A level engages when the reading is at or above its at_centi_c,
 * and releases when the reading is at or below at - hysteresis and below at: with hysteresis 0
 * it releases 0.01 K under its threshold. The hottest engaged level sets the limit; none: 1.0. */
#ifndef STEPS_H
#define STEPS_H

#include <stdint.h>

struct derate_level {
    int16_t at_centi_c;
    uint16_t limit_q15; /* 0..32768 */
};

struct derate_policy {
    const struct derate_level *level; /* at rises strictly, limit does not rise */
    uint8_t levels;                   /* 1..255 */
    uint16_t hysteresis_centi_k;      /* 0 = none */
};

/*@ predicate policy_readable(struct derate_policy *policy) = \valid_read(policy) &&
      \valid_read(policy->level + (0 .. policy->levels - 1));
    predicate policy_works(struct derate_policy *policy) = policy_readable(policy) &&
      \forall integer i; 0 <= i < policy->levels ==> policy->level[i].limit_q15 <= 32768;
    logic integer policy_words(struct derate_policy *policy) = 1;
    logic integer policy_channels(struct derate_policy *policy) = 0;
    logic integer policy_most(struct derate_policy *policy) = policy->levels; */

#include "derate.h"

#endif
