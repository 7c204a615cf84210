/* Settings of the one policy that is linked, by the bytes of a course; all numbers are invented. */
#include "course.h"
#include "derate_settings.h"

#define COLD 4000
#define FULL UINT16_C(32768)

struct derate_policy derate_lamp_policy;

#ifdef OPEN_LOOP_H
void course_policy(uint8_t channels, uint8_t spoil)
{
    (void)channels;
    derate_lamp_policy.unused = spoil != 0u && take() < 128u;
}
#endif

#ifdef FOLDBACK_H
void course_policy(uint8_t channels, uint8_t spoil)
{
    struct derate_policy *policy = &derate_lamp_policy;
    (void)channels;
    policy->start_centi_c = ONE_OF(int16_t, COLD, 3000, 4001, 2000, -32768);
    policy->end_centi_c = (int16_t)(policy->start_centi_c + ONE_OF(int16_t, 1, 700, 1000, 2000, 9000));
    policy->floor_q15 = ONE_OF(uint16_t, 0u, 0u, 2049u, 3277u, 16384u, FULL - 1u, FULL);
    policy->hysteresis_centi_k = ONE_OF(uint16_t, 0u, 100u, 300u, 65535u);
    if (spoil != 0u && take() < 128u) {
        policy->end_centi_c = policy->start_centi_c;
    } else if (spoil != 0u) {
        policy->floor_q15 = ONE_OF(uint16_t, FULL, FULL + 1u, 65535u);
    }
}
#endif

#ifdef STEPS_H
#define MOST_LEVELS 3u
void course_policy(uint8_t channels, uint8_t spoil)
{
    static struct derate_level room[MOST_LEVELS + BEYOND];
    struct derate_policy *policy = &derate_lamp_policy;
    (void)channels;
    policy->levels = (uint8_t)(1u + take() % MOST_LEVELS);
    struct derate_level *level = &room[MOST_LEVELS - policy->levels];
    for (unsigned i = 0u; i < BEYOND; i++) {
        room[MOST_LEVELS + i] = (struct derate_level){-30000, 77u};
    }
    level[0].at_centi_c = ONE_OF(int16_t, COLD, 3000, 4001);
    level[0].limit_q15 = ONE_OF(uint16_t, FULL, 30000u, 20000u);
    for (uint8_t i = 1u; i < policy->levels; i++) {
        level[i].at_centi_c = (int16_t)(level[i - 1u].at_centi_c + ONE_OF(int16_t, 1, 100, 500, 1000));
        level[i].limit_q15 = (uint16_t)(level[i - 1u].limit_q15 - ONE_OF(uint16_t, 0u, 1u, 5000u));
    }
    policy->level = level;
    policy->hysteresis_centi_k = ONE_OF(uint16_t, 0u, 1u, 100u, 300u, 65535u);
    if (spoil != 0u) {
        uint8_t last = (uint8_t)(policy->levels - 1u);
        switch (take() % 4u) {
        case 0u:
            policy->levels = 0u;
            break;
        case 1u:
            level[last].limit_q15 = FULL + 1u;
            level[0].limit_q15 = FULL + 1u;
            break;
        case 2u:
            level[last].at_centi_c = level[0].at_centi_c;
            break;
        default:
            level[last].limit_q15 = (uint16_t)(level[0].limit_q15 + 1u);
        }
    }
}
#endif

#ifdef PI_H
static struct derate_gain gain(void)
{
    return (struct derate_gain){ONE_OF(uint16_t, 0u, 1u, 300u, 32768u, 65535u),
                                ONE_OF(uint8_t, 0u, 4u, 12u, 16u, 31u)};
}

void course_policy(uint8_t channels, uint8_t spoil)
{
    struct derate_policy *policy = &derate_lamp_policy;
    (void)channels;
    policy->setpoint_centi_c = ONE_OF(int16_t, COLD, 3000, 3999, 2000, -32768);
    policy->floor_q15 = ONE_OF(uint16_t, 0u, 3277u, 16384u, FULL);
    policy->gain = gain();
    policy->integral_gain = gain();
    if (spoil != 0u) {
        switch (take() % 3u) {
        case 0u:
            policy->floor_q15 = FULL + 1u;
            break;
        case 1u:
            policy->gain.shift = 32u;
            break;
        default:
            policy->integral_gain.shift = 32u;
        }
    }
}
#endif

#ifdef PREDICTIVE_H
#define MOST_PLACES 3u
static int16_t end_room[MOST_PLACES + BEYOND];
static uint16_t now_room[MOST_PLACES * MOST_CHANNELS + BEYOND];
static int16_t gain_room[MOST_PLACES * MOST_CHANNELS * MOST_LAGS + BEYOND];
static uint16_t unsure_room[MOST_PLACES + BEYOND];
static struct derate_lag lag_room[MOST_LAGS + 1u + BEYOND];

/* As large as the integers hold, in the last place. */
static void fill(struct derate_policy *policy, int16_t *gain, uint16_t *now, uint16_t *unsure)
{
    uint8_t last = (uint8_t)(policy->places - 1u);
    unsigned words = (unsigned)policy->channels * policy->lags;
    int32_t left = 32767;
    uint32_t width = 65535u - policy->band_centi_k;
    unsure[last] = (uint16_t)ONE_OF(uint16_t, 0u, 1000u);
    left -= unsure[last];
    for (unsigned i = 0u; i < words; i++) {
        int32_t one = i + 1u < words ? left / 2 : left;
        gain[last * words + i] = (int16_t)(take() < 128u ? one : -one);
        left -= one;
    }
    for (unsigned i = 0u; i < policy->channels; i++) {
        uint32_t one = i + 1u < policy->channels ? width / 3u : width;
        now[last * policy->channels + i] = (uint16_t)one;
        width -= one;
    }
}

static void spoil_policy(struct derate_policy *policy, int16_t *gain, uint16_t *now,
                         uint16_t *unsure, struct derate_lag *lag)
{
    uint8_t last = (uint8_t)(policy->places - 1u);
    unsigned words = (unsigned)policy->channels * policy->lags;
    switch (take() % 12u) {
    case 0u:
        policy->places = 0u;
        break;
    case 1u:
        policy->channels++;
        break;
    case 2u:
        policy->lags = 0u;
        break;
    case 3u:
        policy->band_centi_k = 0u;
        break;
    case 4u:
        policy->floor_q15 = FULL + 1u;
        break;
    case 5u:
        lag[take() % (policy->lags + 1u)].mantissa = 0u;
        break;
    case 6u:
        lag[take() % (policy->lags + 1u)].shift = ONE_OF(uint8_t, 20u, 21u, 255u);
        break;
    case 7u:
        fill(policy, gain, now, unsure);
        break;
    case 8u:
        fill(policy, gain, now, unsure);
        unsure[last]++;
        break;
    case 9u:
        fill(policy, gain, now, unsure);
        now[last * policy->channels]++;
        break;
    case 10u:
        policy->band_centi_k = 65535u;
        break;
    default:
        gain[last * words] = ONE_OF(int16_t, -32767, 32767, -32768);
    }
}

void course_policy(uint8_t channels, uint8_t spoil)
{
    struct derate_policy *policy = &derate_lamp_policy;
    policy->places = (uint8_t)(1u + take() % MOST_PLACES);
    policy->channels = channels;
    policy->lags = (uint8_t)(1u + take() % MOST_LAGS);
    unsigned rows = (unsigned)policy->places * channels, words = rows * policy->lags;
    int16_t *end = &end_room[MOST_PLACES - policy->places];
    uint16_t *now = &now_room[MOST_PLACES * MOST_CHANNELS - rows];
    int16_t *gain = &gain_room[MOST_PLACES * MOST_CHANNELS * MOST_LAGS - words];
    uint16_t *unsure = &unsure_room[MOST_PLACES - policy->places];
    struct derate_lag *lag = &lag_room[MOST_LAGS - policy->lags];
    for (unsigned i = 0u; i < policy->places; i++) {
        end[i] = ONE_OF(int16_t, COLD, 5000, 6000, 9000, -32768, 32767);
        unsure[i] = ONE_OF(uint16_t, 0u, 0u, 500u, 2000u);
    }
    for (unsigned i = 0u; i < rows; i++) {
        now[i] = ONE_OF(uint16_t, 0u, 1u, 100u, 1000u, 20000u);
    }
    for (unsigned i = 0u; i < words; i++) {
        gain[i] = ONE_OF(int16_t, 0, 1, 500, 2000, -300, -1, 4000);
    }
    for (unsigned i = 0u; i <= policy->lags; i++) {
        lag[i] = (struct derate_lag){ONE_OF(uint16_t, 65535u, 32768u, 20000u, 1u),
                                     ONE_OF(uint8_t, 0u, 0u, 1u, 3u, 20u)};
    }
    for (unsigned i = 0u; i < BEYOND; i++) { /* looked at by mistake, it shows */
        end_room[MOST_PLACES + i] = -20000;
        now_room[MOST_PLACES * MOST_CHANNELS + i] = 9000u;
        gain_room[MOST_PLACES * MOST_CHANNELS * MOST_LAGS + i] = 9000;
        unsure_room[MOST_PLACES + i] = 9000u;
        lag_room[MOST_LAGS + 1u + i] = (struct derate_lag){0u, 99u};
    }
    policy->band_centi_k = ONE_OF(uint16_t, 1u, 100u, 1000u, 3000u);
    policy->floor_q15 = ONE_OF(uint16_t, 0u, 0u, 3277u, FULL);
    policy->end_centi_c = end;
    policy->now_centi_k = now;
    policy->gain_centi_k = gain;
    policy->unsure_centi_k = unsure;
    policy->lag = lag;
    if (spoil != 0u) {
        spoil_policy(policy, gain, now, unsure, lag);
    }
}
#endif
