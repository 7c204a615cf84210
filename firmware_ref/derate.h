/* derate: thermal derating of an LED lamp, in integers. This header is the manual.
 *
 * Call derate_start once, then derate_step at a fixed period. One step turns the ADC codes of
 * one or two NTC thermistors and the requested duty of every channel into the duty to drive:
 *
 *   codes -> window -> table -> jump -> disagreement -> stuck -> hottest -> filter -> policy
 *         -> fault and cut-off -> attack, hold, release -> duty = request * share of the limit
 *
 * Promises, for every input and every order of inputs: a duty is never above its request nor,
 * with the same share for all or under a fault, above the limit; it is 0 where the limit is; under
 * a fault the limit is at most safe_q15; at or above the cut-off it is 0.
 *
 * Scales: a temperature "_centi_c" is in 0.01 degC, a difference "_centi_k" in 0.01 K; "_q15" is
 * a share with 32768 = 1.0; "_q31" a share with 2147483648 = 1.0; "_steps" counts calls.
 * Portable C99: integers only, no allocation, no library calls, no recursion, no static data;
 * reentrant, one state per controller. int may have 16 bits.
 *
 * CAUTION: a firmware limit is no substitute for an independent hardware cut-out where failure
 * can hurt. Intense light can injure eyes; metal-core boards burn skin. Measure before trusting.
 */
#ifndef DERATE_H
#define DERATE_H

#include <stdint.h>

#define DERATE_ONE_Q15 UINT32_C(32768)
#define DERATE_ONE_Q31 UINT32_C(0x80000000)
#define DERATE_NO_READING INT16_MIN /* stands for "this sensor gives no temperature" */

/* Status, the low half of what derate_step returns; the limit (Q15) is the high half. */
#define DERATE_CUTOFF 0x0001u   /* reading at or above cutoff_centi_c: limit is 0 */
#define DERATE_POLICY 0x0002u   /* the policy allows less than 1.0 */
#define DERATE_RAMP 0x0004u     /* hold or release keeps the limit below what is allowed */
#define DERATE_FAULT 0x0008u    /* limit is at most safe_q15; the causes are the flags below, */
#define DERATE_OPEN 0x0010u     /* all that were seen since the fault began: wire or part open */
#define DERATE_SHORT 0x0020u    /* part or wire shorted */
#define DERATE_JUMP 0x0040u     /* reading moved more than max_jump_centi_k in one step */
#define DERATE_DISAGREE 0x0080u /* two sensors further apart than disagreement_centi_k */
#define DERATE_STUCK 0x0100u    /* driven, and no rise */
#define DERATE_SECOND 0x0200u   /* open, short or jump was seen on the second sensor */
#define DERATE_REFUSED 0x0400u  /* derate_start refused the settings (or never ran): all duties 0 */

#define DERATE_SHARE_KNOTS 17u /* points of share_q15 for each channel, DERATE_ONE_Q15 / 16 apart */

/* Reasons to refuse settings, from derate_check and derate_start. */
enum derate_refusal {
    DERATE_ACCEPTED = 0,
    DERATE_BAD_COUNT,  /* no channel, or neither one nor two sensors */
    DERATE_BAD_TABLE,  /* see struct derate_table */
    DERATE_BAD_LIMIT,  /* safe_q15 above 1.0, or the cut-off lies outside a table */
    DERATE_BAD_FILTER, /* filter_shift above 8 */
    DERATE_BAD_RATE,   /* attack or release above 1.0 a step */
    DERATE_BAD_STUCK,  /* see stuck_drive_q15 */
    DERATE_BAD_POLICY, /* see the header of the policy that is linked */
    DERATE_BAD_SHARE   /* see share_q15 */
};

/* Codes to temperatures of one sensor: straight lines between knots, rounded to nearest.
 * code[] rises strictly; reading_centi_c[] rises strictly or falls strictly, neighbours at most
 * 32766 apart, none -32768. Codes up to low_code and from high_code on are faults and raise
 * low_flag and high_flag (DERATE_OPEN or DERATE_SHORT: which is which depends on the divider);
 * neither is 0; both codes lie outside the knots. A code between a fault and the outer knot reads as that knot.
 * Code 0 and code 65535 thus are faults, never a temperature. */
struct derate_table {
    const uint16_t *code;
    const int16_t *reading_centi_c;
    uint8_t knots; /* 2..255 */
    uint16_t low_code;
    uint16_t high_code;
    uint16_t low_flag;
    uint16_t high_flag;
};

/* The policy: settings and one function, completed by the one policy that is linked
 * (foldback.h, steps.h, pi.h, predictive.h, open_loop.h, or your own). */
struct derate_policy;

/* Everything that does not change while the lamp runs; may live in flash. */
struct derate_settings {
    uint8_t channels;          /* 1..255 requests and duties */
    uint8_t sensors;           /* 1 or 2; the hottest reading counts */
    uint8_t filter_shift;      /* 0..8: time constant about 2^shift steps; 0 = no filter */
    uint8_t latch;             /* 1: a fault stays until derate_start; 0: it clears by itself */
    struct derate_table table[2];       /* table[1] is not looked at with one sensor */
    const struct derate_policy *policy;
    const uint16_t *share_q15; /* [channel][DERATE_SHARE_KNOTS]: share at a limit of 0, 1/16 .. 1, from
                                  0 to 32768 and never falling; null = every share is the limit */
    int16_t cutoff_centi_c;    /* limit 0 while a reading, filtered or not, is here or above */
    uint16_t safe_q15;         /* 0..32768: highest limit under a fault; 0 = dark */
    uint32_t attack_q31;       /* 0..2^31 a step downwards; 0 = at once. Cut-off and fault: always at once */
    uint32_t release_q31;      /* 0..2^31 a step upwards; 0 = at once */
    uint32_t hold_steps;       /* steps the limit waits, since it last fell, to rise again; 0 = none */
    uint32_t clear_steps;      /* healthy steps in a row that clear a fault; 0 counts as 1 */
    uint16_t max_jump_centi_k;     /* largest believable change in one step; 0 = no check */
    uint16_t disagreement_centi_k; /* largest believable difference of two sensors; 0 = no check */

    /* Stuck: a sensor that came loose or whose resistance creeps up reads cold, inside the
     * window. Armed at start, and again once the highest duty has been below stuck_drive_q15 for
     * stuck_off_steps, if the reading is below stuck_below_centi_c then; while a fault is seen,
     * an arming that is due waits. Since arming, steps with that duty at or above stuck_drive_q15
     * count up and steps below it count back down, not below 0. When the count reaches
     * stuck_within_steps, and no reading was stuck_rise_centi_k above the lowest one since
     * arming: fault. Only such a rise, or derate_start, ends it: switching the light off does
     * not. Light that flashes less than half the time is not judged. A lamp carried from warm
     * into cold air while lit may never rise: choose the rise well below what stuck_drive_q15
     * gives in stuck_within_steps with the weakest channel alone.
     * stuck_drive_q15 0 = no check; otherwise neither the steps nor the rise may be 0. */
    uint16_t stuck_drive_q15;
    uint16_t stuck_rise_centi_k;
    int16_t stuck_below_centi_c;
    uint32_t stuck_off_steps;
    uint32_t stuck_within_steps;
};

/* For the proof: what derate_check finds out about settings that lie in memory. */
/*@ predicate table_readable{L}(struct derate_table *table) = \valid_read(table) &&
      \valid_read(table->code + (0 .. table->knots - 1)) &&
      \valid_read(table->reading_centi_c + (0 .. table->knots - 1));
    predicate rises{L}(struct derate_table *table) =
      \forall integer i, j; 0 <= i < j < table->knots ==>
        table->reading_centi_c[i] < table->reading_centi_c[j];
    predicate falls{L}(struct derate_table *table) =
      \forall integer i, j; 0 <= i < j < table->knots ==>
        table->reading_centi_c[j] < table->reading_centi_c[i];
    predicate readings_sound{L}(struct derate_table *table) = (rises(table) || falls(table)) &&
      (\forall integer i; 0 <= i < table->knots ==> table->reading_centi_c[i] > -32768) &&
      (\forall integer i, j; 0 <= i < j < table->knots && j <= i + 1 ==>
        -32766 <= table->reading_centi_c[j] - table->reading_centi_c[i] <= 32766);
    predicate table_sound{L}(struct derate_table *table) =
      table_readable(table) && 2 <= table->knots && readings_sound(table) &&
      table->low_flag != 0 && table->high_flag != 0 &&
      table->low_code < table->code[0] && table->code[table->knots - 1] < table->high_code &&
      (\forall integer i, j; 0 <= i < j < table->knots ==> table->code[i] < table->code[j]);
    predicate readings_kept{A, B}(struct derate_table *table, integer knots) =
      \forall integer i; 0 <= i < knots ==>
        \at(table->reading_centi_c[i], A) == \at(table->reading_centi_c[i], B);
    predicate window_fault{L}(struct derate_table *table, integer code) =
      code <= table->low_code || table->high_code <= code;
    predicate shares_sound{L}(uint16_t *knot) =
      knot[0] == 0 && knot[16] == 32768 &&
      (\forall integer i, j; 0 <= i < j <= 16 ==> knot[i] <= knot[j]);
    predicate channel_sound{L}(uint16_t *share, integer i) = shares_sound(share + i * 17);
    predicate channels_sound{L}(uint16_t *share, integer channels) =
      \forall integer i; 0 <= i < channels ==> channel_sound(share, i);
    predicate shares_kept{A, B}(uint16_t *knot) =
      \forall integer k; 0 <= k < 17 ==> \at(knot[k], A) == \at(knot[k], B);
    predicate channel_kept{A, B}(uint16_t *share, integer i) = shares_kept{A, B}(share + i * 17);
    predicate channels_kept{A, B}(uint16_t *share, integer channels) =
      \forall integer i; 0 <= i < channels ==> channel_kept{A, B}(share, i);
    predicate settings_readable{L}(struct derate_settings *settings) = \valid_read(settings) &&
      (settings->sensors >= 1 ==> table_readable(&settings->table[0])) &&
      (settings->sensors == 2 ==> table_readable(&settings->table[1])) &&
      (settings->share_q15 != \null ==>
        \valid_read(settings->share_q15 + (0 .. settings->channels * 17 - 1))) &&
      policy_readable(settings->policy);
    predicate settings_sound{L}(struct derate_settings *settings) = settings_readable(settings) &&
      1 <= settings->channels && 1 <= settings->sensors <= 2 &&
      table_sound(&settings->table[0]) &&
      (settings->sensors == 2 ==> table_sound(&settings->table[1])) &&
      settings->safe_q15 <= 32768 && settings->filter_shift <= 8 &&
      (settings->share_q15 != \null ==> channels_sound(settings->share_q15, settings->channels)) &&
      policy_works(settings->policy) && policy_channels(settings->policy) <= settings->channels; */

#ifndef DERATE_POLICY_MEMORY
#define DERATE_POLICY_MEMORY /* nothing: as long as its owner made it; the proof wants a number */
#endif

/* All memory of one controller, owned by the caller; derate_start fills it. It ends with the words
 * of the policy, DERATE_LAMP_POLICY_WORDS of the generated settings. */
struct derate_state {
    uint32_t filtered;      /* (reading + 32768) * 2^14; 0 = restart from the next sample */
    uint32_t limit_q31;     /* the ramped limit */
    uint32_t hold_steps;    /* still to wait before release */
    uint32_t clear_steps;   /* healthy steps still missing */
    uint32_t off_steps;     /* steps below stuck_drive_q15, up to stuck_off_steps */
    uint32_t driven_steps;  /* steps at or above it since arming, less those below; up to stuck_within_steps */
    int16_t reading_centi_c[2]; /* this step's readings, DERATE_NO_READING if none */
    int16_t lowest_centi_c;     /* lowest reading since arming, DERATE_NO_READING: not armed */
    uint16_t fault_flags;       /* causes of the fault in force */
    uint8_t running;            /* 0: refused, 1: before the first step, 2: running */
    uint32_t policy_memory[DERATE_POLICY_MEMORY]; /* belongs to the policy, which says how many words */
};

/*@ predicate policy_remembers{L}(struct derate_policy *policy, uint32_t *memory) =
      policy_works(policy) && \valid(memory + (0 .. policy_words(policy) - 1)) &&
      \forall integer i; 0 <= i < policy_words(policy) ==> memory[i] <= policy_most(policy);
    predicate state_sound{L}(struct derate_settings *settings, struct derate_state *state) =
      state->filtered <= 65535 * 16384 && state->limit_q31 <= DERATE_ONE_Q31 &&
      (state->fault_flags != 0 ==> (state->fault_flags & DERATE_FAULT) != 0) &&
      policy_remembers(settings->policy, &state->policy_memory[0]);
    predicate table_apart{L}(struct derate_table *table, struct derate_state *state) =
      \separated(state, table->code + (0 .. table->knots - 1)) &&
      \separated(state, table->reading_centi_c + (0 .. table->knots - 1));
    predicate apart{L}(struct derate_settings *settings, struct derate_state *state) =
      \separated(state, settings) && table_apart(&settings->table[0], state) &&
      (settings->sensors == 2 ==> table_apart(&settings->table[1], state)) &&
      (settings->share_q15 != \null ==>
        \separated(state, settings->share_q15 + (0 .. settings->channels * 17 - 1)));
    predicate duties_fit{L}(struct derate_settings *settings, struct derate_state *state,
                            uint16_t *requests, uint16_t *duties) =
      \valid_read(requests + (0 .. settings->channels - 1)) &&
      \valid(duties + (0 .. settings->channels - 1)) &&
      (duties == requests || \separated(duties + (0 .. settings->channels - 1),
                                        requests + (0 .. settings->channels - 1))) &&
      \separated(settings, state, duties + (0 .. settings->channels - 1)) &&
      \separated(state, requests + (0 .. settings->channels - 1));
    predicate ready{L}(struct derate_settings *settings, struct derate_state *state,
                       uint16_t *codes, uint16_t *duties) =
      settings_sound(settings) && state_sound(settings, state) &&
      policy_words(settings->policy) <= DERATE_POLICY_MEMORY &&
      \valid_read(codes + (0 .. settings->sensors - 1)) &&
      \separated(state, codes + (0 .. settings->sensors - 1)) &&
      (settings->share_q15 != \null ==>
        \separated(duties + (0 .. settings->channels - 1),
                   settings->share_q15 + (0 .. settings->channels * 17 - 1)));
    predicate any_window_fault{L}(struct derate_settings *settings, uint16_t *codes) =
      window_fault(&settings->table[0], codes[0]) ||
      (settings->sensors == 2 && window_fault(&settings->table[1], codes[1])); */

/* Words of uint32_t that one controller needs; an array of so many is cast to its state. */
#define DERATE_STATE_WORDS(policy_words) ((sizeof(struct derate_state) + 3u) / 4u + (policy_words))

/* 0 (DERATE_ACCEPTED) or the first reason why these settings cannot work. */
/*@ requires settings_readable(settings);
    assigns \nothing;
    ensures \result == DERATE_ACCEPTED ==> settings_sound(settings); */
enum derate_refusal derate_check(const struct derate_settings *settings);

/* Begins afresh, forgetting faults. Refused settings leave a state whose steps give duty 0 and
 * DERATE_REFUSED. */
/*@ requires settings_readable(settings) && \valid(state) && apart(settings, state);
    requires policy_words(settings->policy) <= DERATE_POLICY_MEMORY;
    assigns *state;
    ensures \result == DERATE_ACCEPTED ==> state->running == 1;
    ensures \result == DERATE_ACCEPTED ==> state_sound(settings, state);
    ensures \result == DERATE_ACCEPTED ==> \old(settings_sound(settings));
    ensures \result != DERATE_ACCEPTED ==> state->running == 0; */
enum derate_refusal derate_start(const struct derate_settings *settings,
                                 struct derate_state *state);

/* One control period. codes: one per sensor, any value. requests_q15: one per channel; above
 * 32768 counts as 32768. duties_q15: one per channel, may be the same array as requests_q15.
 * Returns status | limit_q15 << 16. The first step after start takes the allowed limit at once. */
/*@ requires \valid_read(settings) && \valid(state) && apart(settings, state);
    requires duties_fit(settings, state, requests_q15, duties_q15);
    requires state->running != 0 ==> ready(settings, state, codes, duties_q15);
    assigns *state, duties_q15[0 .. settings->channels - 1];
    ensures promised: \forall integer i; 0 <= i < settings->channels ==>
      duties_q15[i] <= DERATE_ONE_Q15 && duties_q15[i] <= \old(requests_q15[i]);
    ensures refused: \old(state->running) == 0 ==> \result == DERATE_REFUSED &&
      state->running == 0 && \forall integer i; 0 <= i < settings->channels ==>
      duties_q15[i] == 0;
    ensures limited: \old(state->running) != 0 &&
      (\old(settings->share_q15) == \null || state->fault_flags != 0) ==> \forall integer i; 0 <= i < settings->channels ==>
      duties_q15[i] <= \result / 65536;
    ensures dark: \result < 65536 ==> \forall integer i; 0 <= i < settings->channels ==>
      duties_q15[i] == 0;
    ensures told: \old(state->running != 0 && any_window_fault(settings, codes)) ==>
      state->fault_flags != 0;
    ensures safe: \old(state->running) != 0 && state->fault_flags != 0 ==>
      \forall integer i; 0 <= i < settings->channels ==> duties_q15[i] <= \old(settings->safe_q15);
    ensures cut: \old(state->running) != 0 && \max(state->reading_centi_c[0],
      state->reading_centi_c[1]) >= \old(settings->cutoff_centi_c) ==>
      \forall integer i; 0 <= i < settings->channels ==> duties_q15[i] == 0;
    ensures kept: \old(state->running) != 0 ==> state->running == 2 &&
      state_sound(settings, state); */
uint32_t derate_step(const struct derate_settings *settings, struct derate_state *state,
                     const uint16_t *codes, const uint16_t *requests_q15, uint16_t *duties_q15);

/*@ lemma product_within: \forall integer a, b, c; 0 <= a && b <= c ==> a * b <= a * c;
    lemma ratio_within: \forall integer n, d, q; 0 <= n && 0 < d && n <= q * d ==> n / d <= q; */

/* numerator / denominator, rounded down, for numerators below 2^31, denominators up to 65535 and
 * quotients up to 65535. On cores that do not divide, by a third of the instructions that the
 * compiler's own division for all numbers takes. */
#if defined(__ARM_ARCH_6M__) || defined(__AVR__) || defined(DERATE_LONG_DIVISION)
uint16_t derate_ratio(uint32_t numerator, uint32_t denominator);
#else
#define derate_ratio(numerator, denominator) ((uint16_t)((numerator) / (denominator)))
#endif

/* What a policy provides; memory is its own, start fills it. limit: share allowed at this reading
 * and these requests, 0..32768, called once a healthy step. driven: told every step, healthy or
 * not, which duties go out. check: 0 when its settings cannot work for so many channels.
 *
 * For the proof the policy's header defines, before it includes this one: policy_readable, its
 * settings lie in memory; policy_works, and are sound; policy_words of memory, each at most
 * policy_most; policy_channels, how many requests and duties it reads. */
/*@ requires policy_works(policy) && \valid(memory + (0 .. policy_words(policy) - 1));
    assigns memory[0 .. policy_words(policy) - 1];
    ensures policy_remembers(policy, memory); */
void derate_policy_start(const struct derate_policy *policy, uint32_t *memory);

/*@ requires policy_remembers(policy, memory);
    requires \valid_read(requests_q15 + (0 .. policy_channels(policy) - 1));
    assigns memory[0 .. policy_words(policy) - 1];
    ensures policy_remembers(policy, memory) && \result <= DERATE_ONE_Q15; */
uint16_t derate_policy_limit(const struct derate_policy *policy, uint32_t *memory,
                             int16_t reading_centi_c, const uint16_t *requests_q15);

/*@ requires policy_remembers(policy, memory);
    requires \valid_read(duties_q15 + (0 .. policy_channels(policy) - 1));
    requires \forall integer i; 0 <= i < policy_channels(policy) ==>
             duties_q15[i] <= DERATE_ONE_Q15;
    assigns memory[0 .. policy_words(policy) - 1];
    ensures policy_remembers(policy, memory); */
void derate_policy_driven(const struct derate_policy *policy, uint32_t *memory,
                          const uint16_t *duties_q15);

/*@ requires policy_readable(policy);
    assigns \nothing;
    ensures \result != 0 ==> policy_works(policy) && policy_channels(policy) <= channels; */
uint8_t derate_policy_check(const struct derate_policy *policy, uint8_t channels);

#endif
