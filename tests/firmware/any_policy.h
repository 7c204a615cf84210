/* For the proof of derate.c: a policy of which nothing is known but the contracts of derate.h. */
#ifndef ANY_POLICY_H
#define ANY_POLICY_H

#include <stdint.h>

struct derate_policy {
    uint8_t anything;
};

/*@ axiomatic any_policy {
      predicate policy_readable(struct derate_policy *policy);
      predicate policy_works(struct derate_policy *policy);
      logic integer policy_words(struct derate_policy *policy);
      logic integer policy_channels(struct derate_policy *policy);
      logic integer policy_most(struct derate_policy *policy);
    } */

#include "derate.h"

#endif
