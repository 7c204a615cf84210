/* Binds the generated settings to the controller. Settings that derate_start refuses show as
 * DERATE_REFUSED, with all duties 0, in every step. */
#include "controller.h"

#include "derate.h"
#include "derate_settings.h"

uint16_t controller_size(void)
{
    return (uint16_t)(4u * DERATE_STATE_WORDS(DERATE_LAMP_POLICY_WORDS));
}

void controller_start(void *state)
{
    (void)derate_start(&derate_lamp_settings, (struct derate_state *)state);
}

uint32_t controller_step(void *state, const uint16_t *codes, const uint16_t *requests_q15,
                         uint16_t *duties_q15)
{
    return derate_step(&derate_lamp_settings, (struct derate_state *)state, codes, requests_q15,
                       duties_q15);
}
