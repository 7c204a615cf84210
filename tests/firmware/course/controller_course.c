/* A course of the controller: settings, then steps, and what derate.h promises of each. */
#include <stdlib.h>

#include "controller.h"
#include "course.h"
#include "derate_settings.h"

#define SENSORS 2u

static uint16_t next_code(const struct derate_table *table, uint16_t code, uint8_t calm)
{
    uint8_t kind = take();
    if (kind < 60u) {
        return code;
    }
    if (kind < 220u || calm) {
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
    uint8_t calm;   /* codes do not leap */
};

/* Words of memory that the policy has with these settings. */
static unsigned words_used(void)
{
#ifdef PREDICTIVE_H
    return (unsigned)derate_lamp_policy.channels * derate_lamp_policy.lags + 1u;
#else
    return 1u;
#endif
}

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

static void note_policy(const struct derate_state *state)
{
    for (unsigned i = 0u; i < words_used(); i++) {
        note(state->policy_memory[i]);
    }
}

/* Whatever was in the memory: after a start it holds the same. */
static void begin(struct derate_state *state, struct drive *drive)
{
    enum derate_refusal refusal = derate_check(&derate_lamp_settings);
    controller_start(state);
    drive->faulty = 0u;
    note((uint32_t)refusal);
    note(state->filtered);
    note(state->limit_q31);
    note(state->hold_steps);
    note(state->clear_steps);
    note(state->off_steps);
    note(state->driven_steps);
    note((uint32_t)(state->lowest_centi_c + 32768));
    note(state->fault_flags);
    note(state->running);
    if (refusal == DERATE_ACCEPTED) {
        note_policy(state);
    }
}

/* Memory as it may be after many steps, at the edges of rounding. */
static void go_on_from(struct derate_state *state)
{
    uint32_t filtered = ONE_OF(uint32_t, 8223u, 8224u, 9361u, 16381u, 16382u);
    uint32_t word = ONE_OF(uint32_t, 0x7FFFu, 0x8000u, 0x80000000u - 0x7FFFu, 0x80000000u - 0x8000u,
                           0x80000000u - 0xFFFEu, 0x80000000u - 0xFFFFu);
    if (state->filtered != 0u && state->filtered < UINT32_C(0x30000000)) {
        state->filtered = (state->filtered & ~UINT32_C(0x3FFF)) + filtered;
    }
    if (words_used() > 1u) {
        uint8_t which = take();
        state->policy_memory[which < 128u ? words_used() - 1u : which % words_used()] = word;
    }
}

void run_course(void)
{
    struct derate_settings *settings = &derate_lamp_settings;
    struct drive drive = {{0u}, {32768u, 32768u, 32768u}, {0u}, 0u, take() < 100u};
    uint8_t spoil = take();
    course_settings(spoil);
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
        } else if (kind >= 240u && derate_check(settings) == DERATE_ACCEPTED) {
            go_on_from(state);
        }
        if (kind & 1u && settings->table[0].knots != 0u && settings->table[1].knots != 0u) {
            drive.codes[0] = next_code(&settings->table[0], drive.codes[0], drive.calm);
            drive.codes[1] = next_code(&settings->table[1], drive.codes[1], drive.calm);
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
    if (derate_check(settings) == DERATE_ACCEPTED) {
        note_policy(state);
    }
    for (uint32_t i = 0u; i < BEYOND; i++) {
        promise(memory[words + i] == UNTOUCHED, "no write beyond the state");
    }
    free(memory);
}
