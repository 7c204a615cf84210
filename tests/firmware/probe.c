/* Hands out what derate_check and derate_start say about the settings of a header. */
#include "derate_settings.h"

int probe_check(void)
{
    return (int)derate_check(&derate_lamp_settings);
}

int probe_start(void)
{
    struct derate_state state;
    return (int)derate_start(&derate_lamp_settings, &state);
}
