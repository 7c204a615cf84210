/* Open loop: no derating, limit 1.0 at every reading. Faults and cut-off still act. */
#ifndef OPEN_LOOP_H
#define OPEN_LOOP_H

#include "derate.h"

struct derate_policy {
    uint8_t unused; /* 0 */
};

#endif
