/* Foldback: limit 1.0 up to start, then along a straight line down to floor at end, floor above.
 * Hysteresis is a backlash on the reading: the reading used follows every rise at once and a fall
 * only once it is more than the hysteresis away; so light comes back along its own line. */
#ifndef FOLDBACK_H
#define FOLDBACK_H

#include <stdint.h>

struct derate_policy {
    int16_t start_centi_c;
    int16_t end_centi_c;       /* above start */
    uint16_t floor_q15;        /* 0..32768: limit at and above end; 0 = dark */
    uint16_t hysteresis_centi_k; /* 0 = one line for both directions */
};

/*@ predicate policy_readable(struct derate_policy *policy) = \valid_read(policy);
    predicate policy_works(struct derate_policy *policy) = policy_readable(policy) &&
      policy->start_centi_c < policy->end_centi_c && policy->floor_q15 <= 32768;
    logic integer policy_words(struct derate_policy *policy) = 1;
    logic integer policy_channels(struct derate_policy *policy) = 0;
    logic integer policy_most(struct derate_policy *policy) = 65535; */

#include "derate.h"

#endif
