/* Hands out what derate_check and derate_start say about the settings of a header. */
#include "derate_settings.h"

int probe_check(void)
{
    return (int)derate_check(&derate_lamp_settings);
}

int probe_start(void)
{
    uint32_t state[DERATE_STATE_WORDS(DERATE_LAMP_POLICY_WORDS)];
    return (int)derate_start(&derate_lamp_settings, (struct derate_state *)state);
}
