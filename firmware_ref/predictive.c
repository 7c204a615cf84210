/* Policy "predictive"; predictive.h is the manual. */
#include "predictive.h"

#define MOST_GAIN INT32_C(32767)
#define MOST_WIDTH UINT32_C(65535)
#define RISE_ZERO (INT32_C(1) << 30) /* added to a sum so that it is never negative */

static uint16_t words_of(const struct derate_policy *policy)
{
    return (uint16_t)((uint16_t)policy->channels * policy->lags);
}

static uint32_t q15(uint32_t share_q31)
{
    return (share_q31 + UINT32_C(0x8000)) >> 16;
}

/* One step of a low-pass; both shares at most 2^31, so no product reaches 2^32. */
static uint32_t follow(struct derate_lag lag, uint32_t now, uint32_t target)
{
    uint32_t apart = target >= now ? target - now : now - target;
    uint32_t fine = ((apart & 0xFFFFu) * lag.mantissa) >> 16;
    uint32_t step = ((apart >> 16) * lag.mantissa + fine) >> lag.shift;
    return target >= now ? now + step : now - step;
}

/* How far a place lies above the reading by what was driven, in 0.01 K, rounded up. The gains add
 * up to at most MOST_GAIN and shares to 2^15, so |sum| < 2^30. */
static int32_t rise_of(const struct derate_policy *policy, const uint32_t *memory, uint8_t place)
{
    uint16_t words = words_of(policy);
    const int16_t *gain = &policy->gain_centi_k[(uint32_t)place * words];
    int32_t sum = (int32_t)(policy->unsure_centi_k[place] * q15(DERATE_ONE_Q31 - memory[words]));
    for (uint16_t i = 0u; i < words; i++) {
        sum += gain[i] * (int32_t)q15(memory[i]);
    }
    return (int32_t)((uint32_t)(sum + RISE_ZERO + 32767) >> 15) - (RISE_ZERO >> 15);
}

/* How far the requests at full light will lift a place, in 0.01 K, rounded up. */
static uint32_t lift_of(const struct derate_policy *policy, const uint16_t *requests_q15,
                        uint8_t place)
{
    const uint16_t *now = &policy->now_centi_k[(uint32_t)place * policy->channels];
    uint32_t sum = 32767u; /* + 65535 * 2^15 < 2^31 */
    for (uint8_t i = 0u; i < policy->channels; i++) {
        uint32_t request = requests_q15[i] < DERATE_ONE_Q15 ? requests_q15[i] : DERATE_ONE_Q15;
        sum += now[i] * request;
    }
    return sum >> 15;
}

void derate_policy_start(const struct derate_policy *policy, uint32_t *memory)
{
    for (uint16_t i = 0u; i <= words_of(policy); i++) {
        memory[i] = 0u;
    }
}

uint16_t derate_policy_limit(const struct derate_policy *policy, uint32_t *memory,
                             int16_t reading_centi_c, const uint16_t *requests_q15)
{
    uint32_t best_room = 1u;
    uint32_t best_width = 1u;
    for (uint8_t i = 0u; i < policy->places; i++) {
        int32_t above = (int32_t)reading_centi_c + rise_of(policy, memory, i);
        uint32_t width = policy->band_centi_k + lift_of(policy, requests_q15, i);
        if (policy->end_centi_c[i] <= above) {
            return policy->floor_q15;
        }
        uint32_t room = (uint32_t)(policy->end_centi_c[i] - above);
        if (room < width && room * best_width < best_room * width) { /* all below 2^16 */
            best_room = room;
            best_width = width;
        }
    }
    uint16_t limit_q15 = derate_ratio(best_room << 15, best_width);
    return limit_q15 > policy->floor_q15 ? limit_q15 : policy->floor_q15;
}

void derate_policy_driven(const struct derate_policy *policy, uint32_t *memory,
                          const uint16_t *duties_q15)
{
    for (uint8_t channel = 0u; channel < policy->channels; channel++) {
        for (uint8_t i = 0u; i < policy->lags; i++) {
            *memory = follow(policy->lag[i], *memory, (uint32_t)duties_q15[channel] << 16);
            memory++;
        }
    }
    *memory = follow(policy->lag[policy->lags], *memory, DERATE_ONE_Q31);
}

static uint8_t place_works(const struct derate_policy *policy, uint8_t place)
{
    uint16_t words = words_of(policy);
    int32_t total = policy->unsure_centi_k[place];
    uint32_t width = policy->band_centi_k;
    for (uint16_t i = 0u; i < words && total <= MOST_GAIN; i++) {
        int32_t gain = policy->gain_centi_k[(uint32_t)place * words + i];
        total += gain < 0 ? -gain : gain;
    }
    for (uint8_t i = 0u; i < policy->channels && width <= MOST_WIDTH; i++) {
        width += policy->now_centi_k[(uint32_t)place * policy->channels + i];
    }
    return total <= MOST_GAIN && width <= MOST_WIDTH;
}

uint8_t derate_policy_check(const struct derate_policy *policy, uint8_t channels)
{
    if (policy->places == 0u || policy->channels != channels || policy->lags == 0u ||
        policy->band_centi_k == 0u || policy->floor_q15 > DERATE_ONE_Q15) {
        return 0u;
    }
    for (uint16_t i = 0u; i <= policy->lags; i++) {
        if (policy->lag[i].mantissa == 0u || policy->lag[i].shift > 20u) {
            return 0u;
        }
    }
    for (uint8_t i = 0u; i < policy->places; i++) {
        if (!place_works(policy, i)) {
            return 0u;
        }
    }
    return 1u;
}
