/* A course of the controller: settings, then steps, and what derate.h promises of each. */
#include <stdlib.h>

#include "controller.h"
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
        uint8_t bend = (uint8_t)(take() % 17u);
        for (unsigned j = 0u; j < DERATE_SHARE_KNOTS; j++) {
            share[j] = j < bend ? (uint16_t)(j * 333u) : (uint16_t)(32768u - (16u - j) * 777u);
        }
        share[0] = 0u;
        share[16] = 32768u;
    }
    for (unsigned i = 0u; i < BEYOND; i++) {
        share_room[SHARES + i] = 65535u;
    }
    derate_lamp_settings.share_q15 = &share_room[SHARES - channels * DERATE_SHARE_KNOTS];
}

static void fill_settings(void)
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
    switch (take() % 10u) {
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
        reading[last] = (int16_t)(reading[last - 1u] + ONE_OF(int16_t, 32766, 32767, -32766, -32767));
        break;
    case 8u:
        reading[last - 1u] = ONE_OF(int16_t, 30000, -30000);
        break;
    default:
        code[last] = (uint16_t)(code[last - 1u] + 1u);
        table->high_code = (uint16_t)(code[last] + 1u);
    }
}

static void spoil_settings(void)
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
        share_room[SHARES - 1u - take() % DERATE_SHARE_KNOTS] = ONE_OF(uint16_t, 1u, 32767u, 65535u);
        break;
    default:
        spoil_table(take() & 1u);
    }
}

static uint16_t next_code(const struct derate_table *table, uint16_t code)
{
    uint8_t kind = take();
    if (kind < 60u) {
        return code;
    }
    if (kind < 220u) {
        return (uint16_t)(code + kind % 9u - 4u);
    }
    if (kind < 240u) {
        return table->code[kind % table->knots];
    }
    uint16_t any = take_word();
    return ONE_OF(uint16_t, 0u, 65535u, table->low_code, (uint16_t)(table->low_code + 1u),
                  table->high_code, (uint16_t)(table->high_code - 1u), any);
}

struct drive {
    uint16_t codes[SENSORS];
    uint16_t requests[MOST_CHANNELS];
    uint16_t duties[MOST_CHANNELS];
    uint8_t faulty; /* a fault was seen since the start */
};

static uint32_t highest_reading(const struct derate_state *state)
{
    int32_t first = state->reading_centi_c[0], second = state->reading_centi_c[1];
    return (uint32_t)((first > second ? first : second) + 32768);
}

/* One step, and all that is promised of it. */
static void one_step(struct derate_state *state, struct drive *drive, uint8_t in_place)
{
    const struct derate_settings *settings = &derate_lamp_settings;
    uint16_t asked[MOST_CHANNELS];
    for (unsigned i = 0u; i < settings->channels; i++) {
        asked[i] = drive->requests[i];
        drive->duties[i] = in_place ? drive->requests[i] : 0xA5A5u;
    }
    uint16_t *requests = in_place ? drive->duties : drive->requests;
    uint32_t answer = controller_step(state, drive->codes, requests, drive->duties);
    uint32_t limit = answer >> 16, fault = answer & DERATE_FAULT, broken = 0u;
    note(answer);
    for (unsigned i = 0u; i < settings->channels; i++) {
        uint16_t duty = drive->duties[i];
        note(duty);
        promise(duty <= asked[i] && duty <= 32768u, "a duty is not above its request");
        promise(limit != 0u || duty == 0u, "limit 0 is dark");
        promise((!fault && settings->share_q15 != 0) || duty <= limit, "no duty above the limit");
    }
    if (answer & DERATE_REFUSED) {
        promise(answer == DERATE_REFUSED, "what is refused is dark");
        return;
    }
    for (unsigned i = 0u; i < settings->sensors; i++) {
        const struct derate_table *table = &settings->table[i];
        broken |= drive->codes[i] <= table->low_code || drive->codes[i] >= table->high_code;
        note((uint32_t)(state->reading_centi_c[i] + 32768));
    }
    promise(limit <= 32768u, "a limit is a share");
    promise(!broken || fault, "a broken sensor is a fault in the same step");
    promise(!fault || limit <= settings->safe_q15, "a fault brings the safe duty");
    drive->faulty = drive->faulty || fault != 0u;
    promise(settings->latch == 0u || !drive->faulty || fault, "a latched fault stays");
    if (highest_reading(state) >= (uint32_t)(settings->cutoff_centi_c + 32768)) {
        promise(limit == 0u && (answer & DERATE_CUTOFF), "dark at the cut-off");
    }
}

static void begin(struct derate_state *state, struct drive *drive)
{
    controller_start(state);
    drive->faulty = 0u;
    note((uint32_t)derate_check(&derate_lamp_settings));
}

void run_course(void)
{
    struct derate_settings *settings = &derate_lamp_settings;
    struct drive drive = {{0u}, {32768u, 32768u, 32768u}, {0u}, 0u};
    uint8_t spoil = take();
    fill_settings();
    course_policy(settings->channels, spoil >= 220u);
    if (spoil < 50u) {
        spoil_settings();
    }
    uint32_t words = DERATE_STATE_WORDS(DERATE_LAMP_POLICY_WORDS);
    uint32_t *memory = malloc(4u * (words + BEYOND));
    promise(memory != 0 && controller_size() == 4u * words, "the size is told");
    for (uint32_t i = 0u; i < words + BEYOND; i++) {
        memory[i] = UNTOUCHED;
    }
    struct derate_state *state = (struct derate_state *)memory;
    if (spoil % 16u == 0u) { /* zeroed and never started */
        state->running = 0u;
        one_step(state, &drive, 0u);
    }
    begin(state, &drive);
    drive.codes[0] = derate_lamp_settings.table[0].code[0];
    drive.codes[1] = derate_lamp_settings.table[1].code[0];
    while (more() != 0u) {
        uint8_t kind = take();
        if (kind >= 252u) {
            begin(state, &drive);
        }
        if (kind & 1u && settings->table[0].knots != 0u && settings->table[1].knots != 0u) {
            drive.codes[0] = next_code(&settings->table[0], drive.codes[0]);
            drive.codes[1] = next_code(&settings->table[1], drive.codes[1]);
        }
        if (kind >= 200u) {
            for (unsigned i = 0u; i < MOST_CHANNELS; i++) {
                uint16_t any = take_word();
                drive.requests[i] = ONE_OF(uint16_t, 0u, 1u, 8192u, 16384u, 16385u, 32767u, 32768u,
                                           32769u, 65535u, any);
            }
        }
        for (unsigned left = kind / 2u % 4u + 1u; left != 0u; left--) {
            one_step(state, &drive, kind & 8u);
        }
    }
    for (uint32_t i = 0u; i < BEYOND; i++) {
        promise(memory[words + i] == UNTOUCHED, "no write beyond the state");
    }
    free(memory);
}
