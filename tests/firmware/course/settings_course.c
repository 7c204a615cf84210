/* Settings of a course: mostly such that work, now and then at the edge of it or beyond. */
#include "course.h"
#include "derate_settings.h"

#define SENSORS 2u
#define KNOTS 5u
#define SHARES (MOST_CHANNELS * DERATE_SHARE_KNOTS)

struct derate_settings derate_lamp_settings;

static uint16_t code_room[SENSORS][KNOTS + BEYOND];
static int16_t reading_room[SENSORS][KNOTS + BEYOND];
static uint16_t share_room[SHARES + BEYOND];

static void fill_table(unsigned index)
{
    struct derate_table *table = &derate_lamp_settings.table[index];
    uint8_t kind = (uint8_t)(take() % 5u);
    uint8_t knots = kind == 4u ? 2u : (uint8_t)(2u + take() % (KNOTS - 1u));
    uint16_t *code = &code_room[index][KNOTS - knots];
    int16_t *reading = &reading_room[index][KNOTS - knots];
    int16_t sign = kind & 1u ? -1 : 1;
    code[0] = ONE_OF(uint16_t, 100u, 1u, 101u);
    reading[0] = (int16_t)(sign * -ONE_OF(int16_t, 100, 2000, 10000));
    for (uint8_t i = 1u; i < knots; i++) { /* straight, with rounding, steep */
        uint8_t wide = ONE_OF(uint8_t, 10u, 20u, 31u, 1u);
        int16_t each = kind < 2u ? 100 : ONE_OF(int16_t, 100, 7, 33, 271);
        code[i] = (uint16_t)(code[i - 1u] + wide);
        reading[i] = (int16_t)(reading[i - 1u] + sign * each * (kind < 2u ? wide : wide / 2 + 1));
    }
    if (kind < 4u && sign < 0) { /* so that all of them pass what policies look at */
        for (uint8_t i = 0u; i < knots; i++) {
            reading[i] = (int16_t)(reading[i] + 7000);
        }
    }
    if (kind == 4u) {
        code[0] = 1u;
        code[1] = 65534u;
        reading[0] = 16383;
        reading[1] = -16383;
    }
    for (unsigned i = 0u; i < BEYOND; i++) {
        code_room[index][KNOTS + i] = 7u;
        reading_room[index][KNOTS + i] = 31000;
    }
    table->code = code;
    table->reading_centi_c = reading;
    table->knots = knots;
    table->low_code = (uint16_t)(code[0] - 1u - take() % (code[0] > 9u ? 9u : 1u));
    table->high_code = (uint16_t)(code[knots - 1u] + 1u + take() % (kind == 4u ? 1u : 9u));
    table->low_flag = kind & 2u ? DERATE_OPEN : DERATE_SHORT;
    table->high_flag = kind & 2u ? DERATE_SHORT : DERATE_OPEN;
}

static void fill_shares(uint8_t channels)
{
    uint16_t *share = &share_room[SHARES - channels * DERATE_SHARE_KNOTS];
    for (uint8_t i = 0u; i < channels; i++, share += DERATE_SHARE_KNOTS) {
        uint8_t bend = ONE_OF(uint8_t, 1u, 2u, 2u, 3u, 9u, 15u);
        for (unsigned j = 0u; j < DERATE_SHARE_KNOTS; j++) {
            share[j] = j < bend ? (uint16_t)(j / 2u * 333u) : (uint16_t)(32768u - (16u - j) * 777u);
        }
        share[0] = 0u;
        share[16] = 32768u;
    }
    for (unsigned i = 0u; i < BEYOND; i++) {
        share_room[SHARES + i] = 65535u;
    }
    derate_lamp_settings.share_q15 = &share_room[SHARES - channels * DERATE_SHARE_KNOTS];
}

static void fill(void)
{
    struct derate_settings *settings = &derate_lamp_settings;
    settings->channels = (uint8_t)(1u + take() % MOST_CHANNELS);
    settings->sensors = (uint8_t)(1u + take() % SENSORS);
    settings->filter_shift = ONE_OF(uint8_t, 0u, 0u, 1u, 3u, 8u);
    settings->latch = take() % 4u == 0u;
    fill_table(0u);
    fill_table(1u);
    settings->policy = &derate_lamp_policy;
    settings->share_q15 = 0;
    if (take() % 3u == 0u) {
        fill_shares(settings->channels);
    }
    const struct derate_table *table = &settings->table[0];
    uint8_t rises = table->reading_centi_c[1] > table->reading_centi_c[0];
    int16_t hot = table->reading_centi_c[rises ? table->knots - 1u : 0u];
    settings->cutoff_centi_c = ONE_OF(int16_t, hot, hot, (int16_t)(hot - 100), 500, 1000);
    settings->safe_q15 = ONE_OF(uint16_t, 0u, 8192u, 16384u, 32768u);
    settings->attack_q31 = ONE_OF(uint32_t, 0u, 0u, 1u, 0x80000000u, 0x08000000u, 0x100123u);
    settings->release_q31 = ONE_OF(uint32_t, 0u, 0u, 1u, 0x80000000u, 0x08000000u, 0x18001234u);
    settings->hold_steps = ONE_OF(uint32_t, 0u, 0u, 1u, 3u);
    settings->clear_steps = ONE_OF(uint32_t, 0u, 1u, 3u);
    settings->max_jump_centi_k = ONE_OF(uint16_t, 0u, 0u, 1u, 100u, 400u);
    settings->disagreement_centi_k = ONE_OF(uint16_t, 0u, 0u, 100u, 300u, 2000u);
    settings->stuck_drive_q15 = ONE_OF(uint16_t, 0u, 1u, 8192u, 16384u);
    settings->stuck_rise_centi_k = ONE_OF(uint16_t, 100u, 1u, 300u);
    settings->stuck_below_centi_c = ONE_OF(int16_t, 500, 5000, 32767);
    settings->stuck_off_steps = ONE_OF(uint32_t, 1u, 2u, 3u);
    settings->stuck_within_steps = ONE_OF(uint32_t, 1u, 2u, 4u);
}

/* Values at the edge of what works, on one side or the other. */
static void spoil_table(unsigned index)
{
    struct derate_table *table = &derate_lamp_settings.table[index];
    uint16_t *code = &code_room[index][KNOTS - table->knots];
    int16_t *reading = &reading_room[index][KNOTS - table->knots];
    unsigned last = table->knots - 1u;
    switch (take() % 12u) {
    case 0u:
        table->knots = (uint8_t)(take() % 3u);
        break;
    case 1u:
        table->low_code = code[0];
        break;
    case 2u:
        table->high_code = code[last];
        break;
    case 3u:
        code[last] = code[last - 1u];
        break;
    case 4u:
        reading[last] = reading[last - 1u];
        break;
    case 5u:
        reading[last - 1u] = ONE_OF(int16_t, -20000, -32767);
        reading[last] = ONE_OF(int16_t, INT16_MIN, -32767);
        break;
    case 6u:
        reading[1] = ONE_OF(int16_t, -20000, -32767);
        reading[0] = ONE_OF(int16_t, INT16_MIN, -32767);
        break;
    case 7u:
        if (reading[1] > reading[0]) {
            reading[0] = (int16_t)(reading[1] - ONE_OF(int16_t, 32766, 32767));
        } else {
            reading[last] = (int16_t)(reading[last - 1u] - ONE_OF(int16_t, 32766, 32767));
        }
        break;
    case 8u:
        reading[last - 1u] = ONE_OF(int16_t, 30000, -30000);
        break;
    case 9u:
        table->low_flag = ONE_OF(uint16_t, 0u, DERATE_OPEN);
        break;
    case 10u:
        table->high_flag = ONE_OF(uint16_t, 0u, DERATE_OPEN);
        break;
    default:
        code[last] = (uint16_t)(code[last - 1u] + 1u);
        table->high_code = (uint16_t)(code[last] + 1u);
    }
}

static void spoil_one(void)
{
    struct derate_settings *settings = &derate_lamp_settings;
    const struct derate_table *table = &settings->table[0];
    switch (take() % 14u) {
    case 0u:
        settings->channels = 0u;
        break;
    case 1u:
        settings->sensors = ONE_OF(uint8_t, 0u, 3u, 255u);
        break;
    case 2u:
        settings->filter_shift = ONE_OF(uint8_t, 8u, 9u);
        break;
    case 3u:
        settings->safe_q15 = ONE_OF(uint16_t, 32768u, 32769u);
        break;
    case 4u:
        settings->attack_q31 = ONE_OF(uint32_t, 0x80000000u, 0x80000001u);
        break;
    case 5u:
        settings->release_q31 = ONE_OF(uint32_t, 0x80000000u, 0x80000001u);
        break;
    case 6u:
        settings->stuck_rise_centi_k = 0u;
        break;
    case 7u:
        settings->stuck_off_steps = 0u;
        break;
    case 8u:
        settings->stuck_within_steps = 0u;
        break;
    case 9u:
        settings->cutoff_centi_c =
            (int16_t)(table->reading_centi_c[take() & 1u ? 0u : table->knots - 1u] + (take() & 1u));
        break;
    case 10u:
    case 11u:
        fill_shares(settings->channels);
        share_room[SHARES - ONE_OF(uint8_t, 1u, 1u, 2u, 2u, 9u, 16u, 17u)] = ONE_OF(uint16_t, 1u, 32767u, 65535u);
        break;
    default:
        spoil_table(take() & 1u);
    }
}

void course_settings(uint8_t spoil)
{
    fill();
    course_policy(derate_lamp_settings.channels, spoil >= 220u);
    if (spoil < 50u) {
        spoil_one();
    }
}
