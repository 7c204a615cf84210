/* Open loop: no derating, limit 1.0 at every reading. Faults and cut-off still act. */
#ifndef OPEN_LOOP_H
#define OPEN_LOOP_H

#include <stdint.h>

struct derate_policy {
    uint8_t unused; /* 0 */
};

/*@ predicate policy_readable(struct derate_policy *policy) = \valid_read(policy);
    predicate policy_works(struct derate_policy *policy) = policy_readable(policy);
    logic integer policy_words(struct derate_policy *policy) = 1;
    logic integer policy_channels(struct derate_policy *policy) = 0;
    logic integer policy_most(struct derate_policy *policy) = 0; */

#include "derate.h"

#endif
