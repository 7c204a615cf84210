/* Thermal derating: one step from codes and requests to duties. derate.h is the manual. */
#include "derate.h"

#define REFUSED 0u
#define FRESH 1u
#define RUNNING 2u

#define SEGMENT 2048u /* DERATE_ONE_Q15 / 16 */

#define FILTER_ONE UINT32_C(16384) /* 0.01 K */
#define FILTER_HALF (FILTER_ONE / 2u)
#define FILTER_ZERO INT32_C(32768) /* added to a reading so that the filter never goes negative */

/*@ assigns \nothing;
    ensures \result == \abs(a - b); */
static uint32_t distance(int16_t a, int16_t b)
{
    int32_t difference = (int32_t)a - (int32_t)b;
    //@ assert -65535 <= difference <= 65535;
    return (uint32_t)(difference < 0 ? -difference : difference);
}

/*@ assigns \nothing;
    ensures \result == \min(a, b); */
static uint32_t smaller(uint32_t a, uint32_t b)
{
    return a < b ? a : b;
}

#ifndef derate_ratio
/* Long division: the rest moves up and leaves its low end to the bits of the quotient. Twice the
 * rest may pass 2^32; what is taken from it brings it back below. */
uint16_t derate_ratio(uint32_t numerator, uint32_t denominator)
{
    uint32_t part = denominator << 15;
    uint32_t take = (part << 1) - 1u;
    for (unsigned left = 16u; left != 0u; left--) {
        uint32_t less = numerator >= part ? take : 0u;
        numerator = (numerator << 1) - less;
    }
    return (uint16_t)numerator;
}
#endif

/* As much of a change as is past of the span; half a span more rounds to nearest. */
/*@ requires change <= 32766 && past < span <= 65535 && 2 * half <= span;
    assigns \nothing; */
static uint16_t part_of(uint32_t change, uint32_t past, uint32_t span, uint32_t half)
{
    //@ assert change * past <= change * (span - 1);
    return derate_ratio(change * past + half, span); /* < 2^31 */
}

/* The reading of a healthy code; beyond the outer knots it stays at theirs. */
/*@ requires table_sound(table);
    assigns \nothing; */
static int16_t reading_of(const struct derate_table *table, uint16_t code)
{
    unsigned low = 0u;
    unsigned high = table->knots - 1u;
    if (code <= table->code[low]) {
        return table->reading_centi_c[low];
    }
    if (code >= table->code[high]) {
        return table->reading_centi_c[high];
    }
    /*@ loop invariant 0 <= low < high < table->knots;
        loop invariant table->code[low] <= code < table->code[high];
        loop assigns low, high;
        loop variant high - low; */
    while (high - low > 1u) {
        unsigned middle = (low + high) / 2u;
        if (table->code[middle] <= code) {
            low = middle;
        } else {
            high = middle;
        }
    }
    //@ assert high == low + 1;
    uint32_t span = (uint32_t)table->code[high] - table->code[low];
    uint32_t past = (uint32_t)code - table->code[low];
    int32_t from = table->reading_centi_c[low];
    uint32_t change = distance(table->reading_centi_c[high], table->reading_centi_c[low]);
    if (table->reading_centi_c[high] > table->reading_centi_c[low]) {
        return (int16_t)(from + part_of(change, past, span, span / 2u));
    }
    return (int16_t)(from - part_of(change, past, span, (span - 1u) / 2u)); /* floor, as above */
}

/* Reads one sensor; *reading holds the previous reading before and the new one after. */
/*@ requires table_sound(table) && \valid(reading);
    requires \separated(reading, table) &&
      \separated(reading, table->reading_centi_c + (0 .. table->knots - 1));
    assigns *reading;
    ensures code <= table->low_code ==> \result == table->low_flag;
    ensures table->low_code < code && code >= table->high_code ==> \result == table->high_flag;
    ensures table->low_code < code < table->high_code ==>
      \result == 0 || \result == DERATE_JUMP; */
static uint16_t sense(const struct derate_table *table, uint16_t code, uint16_t max_jump_centi_k,
                      int16_t *reading)
{
    uint16_t flag = 0u;
    int16_t now = DERATE_NO_READING;
    if (code <= table->low_code) {
        flag = table->low_flag;
    } else if (code >= table->high_code) {
        flag = table->high_flag;
    } else {
        now = reading_of(table, code);
        if (max_jump_centi_k != 0u && *reading != DERATE_NO_READING &&
            distance(now, *reading) > max_jump_centi_k) {
            flag = DERATE_JUMP;
        }
    }
    *reading = now;
    return flag;
}

/* What is seen, and whether two readings are too far apart. */
/*@ requires \valid_read(settings) && \valid_read(reading + (0 .. 1));
    assigns \nothing;
    ensures \result != seen ==> (\result & DERATE_FAULT) != 0; */
static uint16_t compared(const struct derate_settings *settings, const int16_t *reading,
                         uint16_t seen)
{
    if (settings->disagreement_centi_k != 0u && reading[0] != DERATE_NO_READING &&
        reading[1] != DERATE_NO_READING &&
        distance(reading[0], reading[1]) > settings->disagreement_centi_k) {
        uint16_t more = (uint16_t)(seen | DERATE_DISAGREE | DERATE_FAULT);
        //@ assert (more & DERATE_FAULT) != 0;
        return more;
    }
    return seen;
}

/* Reads all sensors; returns the faults seen in this step. */
/*@ requires settings_sound(settings) && \valid(state) && apart(settings, state);
    requires \valid_read(codes + (0 .. settings->sensors - 1));
    requires \separated(state, codes + (0 .. settings->sensors - 1));
    assigns state->reading_centi_c[0 .. 1];
    ensures \old(any_window_fault(settings, codes)) ==> \result != 0; */
static uint16_t sense_all(const struct derate_settings *settings, struct derate_state *state,
                          const uint16_t *codes)
{
    int16_t *reading = state->reading_centi_c;
    uint16_t seen = 0u;
    /*@ loop invariant 0 <= i <= settings->sensors;
        loop invariant readings_kept{Pre, Here}(&settings->table[0], settings->table[0].knots);
        loop invariant settings->sensors == 2 ==>
          readings_kept{Pre, Here}(&settings->table[1], settings->table[1].knots);
        loop invariant \forall integer k; 0 <= k < i ==>
          window_fault(&settings->table[k], codes[k]) ==> seen != 0;
        loop assigns i, seen, state->reading_centi_c[0 .. 1];
        loop variant settings->sensors - i; */
    for (uint8_t i = 0u; i < settings->sensors; i++) {
        //@ assert table_sound{Pre}(&settings->table[i]);
        //@ assert readings_kept{Pre, Here}(&settings->table[i], settings->table[i].knots);
        //@ assert readings_sound(&settings->table[i]);
        //@ assert table_sound(&settings->table[i]);
        /*@ assert \separated(&reading[i],
              settings->table[0].reading_centi_c + (0 .. settings->table[0].knots - 1)); */
        uint16_t found =
            sense(&settings->table[i], codes[i], settings->max_jump_centi_k, &reading[i]);
        if (found != 0u) {
            seen = (uint16_t)(seen | found | DERATE_FAULT | (i > 0u ? DERATE_SECOND : 0u));
        }
    }
    //@ assert any_window_fault(settings, codes) ==> seen != 0;
    //@ assert any_window_fault{Pre}(settings, codes) ==> seen != 0;
    return compared(settings, reading, seen);
}

/*@ requires \valid_read(state);
    assigns \nothing;
    ensures \result == \max(state->reading_centi_c[0], state->reading_centi_c[1]); */
static int16_t hottest(const struct derate_state *state)
{
    const int16_t *reading = state->reading_centi_c;
    return reading[1] > reading[0] ? reading[1] : reading[0]; /* NO_READING is the lowest value */
}

/* Arms, disarms and judges the stuck check, from the drive of the steps before. */
/*@ requires \valid_read(settings) && \valid(state) && \separated(settings, state);
    assigns state->lowest_centi_c, state->driven_steps;
    ensures \result == 0 || \result == DERATE_STUCK; */
static uint16_t stuck(const struct derate_settings *settings, struct derate_state *state,
                      int16_t reading)
{
    if (settings->stuck_drive_q15 == 0u || reading == DERATE_NO_READING) {
        return 0u;
    }
    uint8_t found = state->driven_steps >= settings->stuck_within_steps;
    if (!found && state->off_steps >= settings->stuck_off_steps &&
        reading < settings->stuck_below_centi_c) {
        state->lowest_centi_c = reading;
        state->driven_steps = 0u;
    }
    if (state->lowest_centi_c == DERATE_NO_READING) {
        return 0u;
    }
    if (reading < state->lowest_centi_c) {
        state->lowest_centi_c = reading;
    }
    if (distance(reading, state->lowest_centi_c) >= settings->stuck_rise_centi_k) {
        state->lowest_centi_c = DERATE_NO_READING;
        state->driven_steps = 0u;
        return 0u;
    }
    return found ? DERATE_STUCK : 0u;
}

/* Tells the policy, and counts for the stuck check, what this step drove; an arming that is due
 * waits out a fault. */
/*@ requires \valid_read(settings) && \valid(state) && \separated(settings, state);
    requires policy_words(settings->policy) <= DERATE_POLICY_MEMORY && state_sound(settings, state);
    requires policy_channels(settings->policy) <= settings->channels;
    requires \valid_read(duties_q15 + (0 .. settings->channels - 1));
    requires \forall integer i; 0 <= i < settings->channels ==> duties_q15[i] <= DERATE_ONE_Q15;
    assigns state->off_steps, state->driven_steps,
      state->policy_memory[0 .. policy_words(settings->policy) - 1];
    ensures state_sound(settings, state); */
static void count_drive(const struct derate_settings *settings, struct derate_state *state,
                        int16_t reading, uint16_t seen, uint16_t highest_duty_q15, const uint16_t *duties_q15)
{
    derate_policy_driven(settings->policy, state->policy_memory, duties_q15);
    uint8_t armed = state->lowest_centi_c != DERATE_NO_READING;
    if (highest_duty_q15 < settings->stuck_drive_q15) {
        if (state->off_steps < settings->stuck_off_steps) {
            state->off_steps++;
        }
        if (state->driven_steps > 0u && state->driven_steps < settings->stuck_within_steps) {
            state->driven_steps--;
        }
        return;
    }
    if (armed || seen == 0u) {
        state->off_steps = 0u;
    }
    if (armed && reading != DERATE_NO_READING &&
        state->driven_steps < settings->stuck_within_steps) {
        state->driven_steps++;
    }
}

/* Faults in force: those seen now, and earlier ones that have not cleared. */
/*@ requires \valid_read(settings) && \valid(state) && \separated(settings, state);
    requires state->fault_flags != 0 ==> (state->fault_flags & DERATE_FAULT) != 0;
    assigns state->fault_flags, state->clear_steps;
    ensures \result == state->fault_flags;
    ensures seen != 0 || \result != 0 ==> (\result & DERATE_FAULT) != 0; */
static uint16_t faults(const struct derate_settings *settings, struct derate_state *state,
                       uint16_t seen)
{
    if (seen != 0u) {
        state->fault_flags = (uint16_t)(state->fault_flags | seen | DERATE_FAULT);
        state->clear_steps = settings->clear_steps;
        return state->fault_flags;
    }
    if (state->clear_steps > 0u) {
        state->clear_steps--;
    }
    if (state->clear_steps == 0u && settings->latch == 0u) {
        state->fault_flags = 0u;
    }
    return state->fault_flags;
}

/*@ lemma shifted_down: \forall integer x, s; 0 <= x && 0 <= s <= 8 ==> 0 <= (x >> s) <= x; */

/* y += (x - y) / 2^shift. The fraction is finer than 2^shift, so y comes within half a unit of x
 * from both sides and the rounded result reaches x. */
/*@ requires \valid_read(settings) && \valid(state) && \separated(settings, state);
    requires state->filtered <= 65535 * 16384 && settings->filter_shift <= 8;
    assigns state->filtered;
    ensures state->filtered <= 65535 * 16384; */
static int16_t filter(const struct derate_settings *settings, struct derate_state *state,
                      int16_t reading)
{
    uint32_t target = (uint32_t)((int32_t)reading + FILTER_ZERO) * FILTER_ONE;
    uint32_t now = state->filtered;
    if (now == 0u) {
        now = target;
    } else if (target >= now) {
        now += (target - now) >> settings->filter_shift;
    } else {
        now -= (now - target) >> settings->filter_shift;
    }
    state->filtered = now;
    return (int16_t)((int32_t)((now + FILTER_HALF) / FILTER_ONE) - FILTER_ZERO);
}

/* Moves the limit towards its target: down by attack, or at once; up by release, after hold. */
/*@ requires \valid_read(settings) && \valid(state) && \separated(settings, state);
    requires state->limit_q31 <= DERATE_ONE_Q31 && target_q15 <= DERATE_ONE_Q15;
    assigns state->limit_q31, state->hold_steps;
    ensures state->limit_q31 <= DERATE_ONE_Q31 && \result == state->limit_q31 / 65536;
    ensures at_once ==> \result <= target_q15;
    ensures \result <= \max(target_q15, \old(state->limit_q31) / 65536); */
static uint16_t ramp(const struct derate_settings *settings, struct derate_state *state,
                     uint16_t target_q15, uint8_t at_once)
{
    uint32_t target = target_q15 * UINT32_C(65536);
    uint32_t now = state->limit_q31;
    if (target < now) {
        uint32_t step = now - target;
        if (!at_once && settings->attack_q31 != 0u) {
            step = smaller(step, settings->attack_q31);
        }
        now -= step;
        state->hold_steps = settings->hold_steps;
    } else if (state->hold_steps > 0u) {
        state->hold_steps--;
    } else {
        uint32_t step = target - now;
        now += settings->release_q31 != 0u ? smaller(step, settings->release_q31) : step;
    }
    state->limit_q31 = now;
    return (uint16_t)(now / 65536u);
}

/* The share of a channel at a limit: straight lines between its knots. */
/*@ requires limit_q15 <= DERATE_ONE_Q15;
    requires \valid_read(knot + (0 .. 16)) && shares_sound(knot);
    assigns \nothing;
    ensures \result <= DERATE_ONE_Q15;
    ensures limit_q15 == 0 ==> \result == 0; */
static uint32_t share_of(const uint16_t *knot, uint16_t limit_q15)
{
    uint32_t past = limit_q15 % SEGMENT;
    knot += limit_q15 / SEGMENT;
    return past == 0u ? knot[0] : knot[0] + ((uint32_t)knot[1] - knot[0]) * past / SEGMENT;
}

/* Of two shares the product, rounded down: not above either. */
/*@ requires a <= DERATE_ONE_Q15 && b <= DERATE_ONE_Q15;
    assigns \nothing;
    ensures \result <= a && \result <= b; */
static uint16_t product_q15(uint32_t a, uint32_t b)
{
    //@ assert a * b <= a * 32768 && b * a <= b * 32768;
    return (uint16_t)(a * b / DERATE_ONE_Q15);
}

/* Writes the duties; returns the highest. Without knots every share is the limit. */
/*@ requires \valid_read(requests_q15 + (0 .. channels - 1));
    requires \valid(duties_q15 + (0 .. channels - 1));
    requires duties_q15 == requests_q15 ||
      \separated(duties_q15 + (0 .. channels - 1), requests_q15 + (0 .. channels - 1));
    requires limit_q15 <= DERATE_ONE_Q15;
    requires knots != \null ==> \valid_read(knots + (0 .. channels * 17 - 1)) &&
      \separated(duties_q15 + (0 .. channels - 1), knots + (0 .. channels * 17 - 1)) &&
      channels_sound(knots, channels);
    assigns duties_q15[0 .. channels - 1];
    ensures \forall integer i; 0 <= i < channels ==> duties_q15[i] <= DERATE_ONE_Q15 &&
      duties_q15[i] <= \old(requests_q15[i]);
    ensures knots == \null ==> \forall integer i; 0 <= i < channels ==> duties_q15[i] <= limit_q15;
    ensures limit_q15 == 0 ==> \forall integer i; 0 <= i < channels ==> duties_q15[i] == 0; */
static uint16_t drive(uint8_t channels, const uint16_t *knots, uint16_t limit_q15,
                      const uint16_t *requests_q15, uint16_t *duties_q15)
{
    uint16_t highest = 0u;
    /*@ loop invariant 0 <= i <= channels;
        loop invariant \forall integer k; i <= k < channels ==>
          requests_q15[k] == \at(requests_q15[k], Pre);
        loop invariant knots != \null ==> \forall integer k; 0 <= k < channels * 17 ==>
          knots[k] == \at(knots[k], Pre);
        loop invariant \forall integer k; 0 <= k < i ==> duties_q15[k] <= DERATE_ONE_Q15 &&
          duties_q15[k] <= \at(requests_q15[k], Pre) &&
          (knots == \null ==> duties_q15[k] <= limit_q15) &&
          (limit_q15 == 0 ==> duties_q15[k] == 0);
        loop assigns i, highest, duties_q15[0 .. channels - 1];
        loop variant channels - i; */
    for (uint8_t i = 0u; i < channels; i++) {
        uint32_t share = limit_q15;
        if (knots != 0) {
            //@ assert channel_sound{Pre}(knots, i);
            share = share_of(&knots[i * DERATE_SHARE_KNOTS], limit_q15);
        }
        uint32_t request = smaller(requests_q15[i], DERATE_ONE_Q15);
        uint16_t duty = product_q15(request, share);
        duties_q15[i] = duty;
        if (duty > highest) {
            highest = duty;
        }
    }
    return highest;
}

/* The limit of this step and, in *status, what acts on it. */
/*@ requires \valid_read(settings) && \valid(state) && \valid(status);
    requires \separated(settings, state, status);
    requires settings->safe_q15 <= DERATE_ONE_Q15 && settings->filter_shift <= 8;
    requires policy_words(settings->policy) <= DERATE_POLICY_MEMORY;
    requires state_sound(settings, state);
    requires \valid_read(requests_q15 + (0 .. policy_channels(settings->policy) - 1));
    assigns state->filtered, state->limit_q31, state->hold_steps, state->clear_steps,
      state->fault_flags, state->policy_memory[0 .. policy_words(settings->policy) - 1], *status;
    ensures \result <= DERATE_ONE_Q15 && state_sound(settings, state);
    ensures seen != 0 ==> state->fault_flags != 0;
    ensures state->fault_flags != 0 ==> \result <= settings->safe_q15;
    ensures state->fault_flags != 0 ==> (*status & DERATE_FAULT) != 0;
    ensures reading >= settings->cutoff_centi_c ==> \result == 0; */
static uint16_t limit(const struct derate_settings *settings, struct derate_state *state,
                      const uint16_t *requests_q15, int16_t reading, uint16_t seen,
                      uint16_t *status)
{
    uint16_t flags = faults(settings, state, seen);
    uint8_t at_once = state->running == FRESH || flags != 0u;
    uint16_t target = settings->safe_q15;
    if (seen != 0u) {
        state->filtered = 0u;
    } else {
        int16_t filtered = filter(settings, state, reading);
        uint16_t allowed = derate_policy_limit(settings->policy, state->policy_memory, filtered,
                                               requests_q15);
        if (flags == 0u || allowed < target) {
            target = allowed;
        }
        if (allowed < DERATE_ONE_Q15) {
            flags = (uint16_t)(flags | DERATE_POLICY);
        }
        if (filtered > reading) {
            reading = filtered;
        }
    }
    if (reading >= settings->cutoff_centi_c) {
        target = 0u;
        at_once = 1u;
        flags = (uint16_t)(flags | DERATE_CUTOFF);
    }
    uint16_t now = ramp(settings, state, target, at_once);
    if (now < target) {
        flags = (uint16_t)(flags | DERATE_RAMP);
    }
    *status = flags;
    return now;
}

/*@ assigns \nothing;
    ensures \result / 65536 == limit_q15;
    ensures \result < 65536 ==> limit_q15 == 0; */
static uint32_t answer_of(uint16_t limit_q15, uint16_t status)
{
    return limit_q15 * UINT32_C(65536) + status;
}

/* A step of settings that were accepted. */
/*@ requires \valid_read(settings) && \valid(state) && apart(settings, state);
    requires duties_fit(settings, state, requests_q15, duties_q15);
    requires ready(settings, state, codes, duties_q15);
    assigns *state, duties_q15[0 .. settings->channels - 1];
    ensures \forall integer i; 0 <= i < settings->channels ==>
      duties_q15[i] <= DERATE_ONE_Q15 && duties_q15[i] <= \old(requests_q15[i]);
    ensures \old(settings->share_q15) == \null || state->fault_flags != 0 ==>
      \forall integer i; 0 <= i < settings->channels ==> duties_q15[i] <= \result / 65536;
    ensures \result < 65536 ==>
      \forall integer i; 0 <= i < settings->channels ==> duties_q15[i] == 0;
    ensures \old(any_window_fault(settings, codes)) ==> state->fault_flags != 0;
    ensures state->fault_flags != 0 ==>
      \forall integer i; 0 <= i < settings->channels ==> duties_q15[i] <= \old(settings->safe_q15);
    ensures \max(state->reading_centi_c[0], state->reading_centi_c[1]) >=
      \old(settings->cutoff_centi_c) ==>
      \forall integer i; 0 <= i < settings->channels ==> duties_q15[i] == 0;
    ensures state_sound(settings, state); */
static uint32_t run(const struct derate_settings *settings, struct derate_state *state,
                    const uint16_t *codes, const uint16_t *requests_q15, uint16_t *duties_q15)
{
    uint16_t status;
    uint16_t seen = sense_all(settings, state, codes);
    int16_t reading = hottest(state);
    seen = (uint16_t)(seen | stuck(settings, state, reading));
    uint16_t limit_q15 = limit(settings, state, requests_q15, reading, seen, &status);
    //@ assert any_window_fault{Pre}(settings, codes) ==> state->fault_flags != 0;
    /*@ assert \forall integer i; 0 <= i < settings->channels ==>
          requests_q15[i] == \at(requests_q15[i], Pre); */
    /*@ assert settings->share_q15 != \null ==>
          channels_sound{Pre}(settings->share_q15, settings->channels); */
    /*@ assert settings->share_q15 != \null ==>
          channels_kept{Pre, Here}(settings->share_q15, settings->channels); */
    /*@ assert settings->share_q15 != \null ==>
          channels_sound(settings->share_q15, settings->channels); */
    /*@ assert \separated(&state->fault_flags, duties_q15 + (0 .. settings->channels - 1)); */
    //@ assert reading >= \at(settings->cutoff_centi_c, Pre) ==> limit_q15 == 0;
    const uint16_t *knots = (status & DERATE_FAULT) != 0u ? 0 : settings->share_q15;
    uint16_t highest = drive(settings->channels, knots, limit_q15, requests_q15, duties_q15);
    //@ assert state->fault_flags != 0 ==> (state->fault_flags & DERATE_FAULT) != 0;
    //@ assert state_sound(settings, state);
    count_drive(settings, state, reading, seen, highest, duties_q15);
    return answer_of(limit_q15, status);
}

uint32_t derate_step(const struct derate_settings *settings, struct derate_state *state,
                     const uint16_t *codes, const uint16_t *requests_q15, uint16_t *duties_q15)
{
    if (state->running == REFUSED) {
        (void)drive(settings->channels, 0, 0u, requests_q15, duties_q15);
        return DERATE_REFUSED;
    }
    uint32_t answer = run(settings, state, codes, requests_q15, duties_q15);
    state->running = RUNNING;
    return answer;
}

enum derate_refusal derate_start(const struct derate_settings *settings,
                                 struct derate_state *state)
{
    enum derate_refusal refusal = derate_check(settings);
    state->filtered = 0u;
    state->limit_q31 = DERATE_ONE_Q31;
    state->hold_steps = 0u;
    state->clear_steps = 0u;
    state->off_steps = settings->stuck_off_steps;
    state->driven_steps = 0u;
    state->reading_centi_c[0] = DERATE_NO_READING;
    state->reading_centi_c[1] = DERATE_NO_READING;
    state->lowest_centi_c = DERATE_NO_READING;
    state->fault_flags = 0u;
    state->running = refusal == DERATE_ACCEPTED ? FRESH : REFUSED;
    if (refusal == DERATE_ACCEPTED) {
        derate_policy_start(settings->policy, state->policy_memory);
    }
    return refusal;
}

/* A knot goes on from the one before it. */
/*@ requires table_readable(table) && 1 <= i < table->knots;
    assigns \nothing;
    ensures \result != 0 ==> table->code[i - 1] < table->code[i] &&
      table->reading_centi_c[i - 1] > -32768 && table->reading_centi_c[i] > -32768 &&
      -32766 <= table->reading_centi_c[i] - table->reading_centi_c[i - 1] <= 32766 &&
      (rises != 0 ==> table->reading_centi_c[i - 1] < table->reading_centi_c[i]) &&
      (rises == 0 ==> table->reading_centi_c[i] < table->reading_centi_c[i - 1]); */
static uint8_t goes_on(const struct derate_table *table, uint8_t i, uint8_t rises)
{
    int16_t here = table->reading_centi_c[i];
    int16_t before = table->reading_centi_c[i - 1u];
    return table->code[i] > table->code[i - 1u] && here != before && (here > before) == rises &&
           distance(here, before) <= 32766u && here != DERATE_NO_READING &&
           before != DERATE_NO_READING;
}

/*@ requires table_readable(table);
    assigns \nothing;
    ensures \result != 0 ==> table_sound(table); */
static uint8_t table_works(const struct derate_table *table)
{
    if (table->knots < 2u || table->low_code >= table->code[0] ||
        table->high_code <= table->code[table->knots - 1u] || table->low_flag == 0u ||
        table->high_flag == 0u) {
        return 0u;
    }
    uint8_t rises = table->reading_centi_c[1] > table->reading_centi_c[0];
    /*@ loop invariant 1 <= i <= table->knots;
        loop invariant \forall integer j, k; 0 <= j < k < i ==> table->code[j] < table->code[k];
        loop invariant rises != 0 ==> \forall integer j, k; 0 <= j < k < i ==>
          table->reading_centi_c[j] < table->reading_centi_c[k];
        loop invariant rises == 0 ==> \forall integer j, k; 0 <= j < k < i ==>
          table->reading_centi_c[k] < table->reading_centi_c[j];
        loop invariant \forall integer j; 0 <= j < i && 1 < i ==>
          table->reading_centi_c[j] > -32768;
        loop invariant \forall integer j, k; 0 <= j < k < i && k <= j + 1 ==>
          -32766 <= table->reading_centi_c[k] - table->reading_centi_c[j] <= 32766;
        loop assigns i;
        loop variant table->knots - i; */
    for (uint8_t i = 1u; i < table->knots; i++) {
        if (!goes_on(table, i, rises)) {
            return 0u;
        }
        //@ assert \forall integer j; 0 <= j < i ==> table->code[j] < table->code[i];
        /*@ assert \forall integer j; 0 <= j < i && i <= j + 1 ==>
              -32766 <= table->reading_centi_c[i] - table->reading_centi_c[j] <= 32766; */
    }
    //@ assert rises(table) || falls(table);
    //@ assert readings_sound(table);
    return 1u;
}

/* The shares of a channel rise from none to all. */
/*@ requires \valid_read(knot + (0 .. 16));
    assigns \nothing;
    ensures \result != 0 ==> shares_sound(knot); */
static uint8_t shares_work(const uint16_t *knot)
{
    /*@ loop invariant 1 <= i <= 17;
        loop invariant \forall integer j, k; 0 <= j < k < i ==> knot[j] <= knot[k];
        loop assigns i;
        loop variant 17 - i; */
    for (uint8_t i = 1u; i < DERATE_SHARE_KNOTS; i++) {
        if (knot[i] < knot[i - 1u]) {
            return 0u;
        }
    }
    return knot[0] == 0u && knot[DERATE_SHARE_KNOTS - 1u] == DERATE_ONE_Q15;
}

/* The cut-off can act: the hot end of the table reads at least that much. */
/*@ requires table_readable(table) && 2 <= table->knots;
    assigns \nothing; */
static uint8_t reaches(const struct derate_table *table, int16_t reading_centi_c)
{
    return table->reading_centi_c[0] >= reading_centi_c ||
           table->reading_centi_c[table->knots - 1u] >= reading_centi_c;
}

enum derate_refusal derate_check(const struct derate_settings *settings)
{
    if (settings->channels == 0u || settings->sensors == 0u || settings->sensors > 2u) {
        return DERATE_BAD_COUNT;
    }
    /*@ loop invariant 0 <= i <= settings->sensors;
        loop invariant \forall integer k; 0 <= k < i ==> table_sound(&settings->table[k]);
        loop assigns i;
        loop variant settings->sensors - i; */
    for (uint8_t i = 0u; i < settings->sensors; i++) {
        if (!table_works(&settings->table[i])) {
            return DERATE_BAD_TABLE;
        }
        if (!reaches(&settings->table[i], settings->cutoff_centi_c)) {
            return DERATE_BAD_LIMIT;
        }
    }
    if (settings->safe_q15 > DERATE_ONE_Q15) {
        return DERATE_BAD_LIMIT;
    }
    if (settings->filter_shift > 8u) {
        return DERATE_BAD_FILTER;
    }
    if (settings->attack_q31 > DERATE_ONE_Q31 || settings->release_q31 > DERATE_ONE_Q31) {
        return DERATE_BAD_RATE;
    }
    if (settings->stuck_drive_q15 != 0u &&
        (settings->stuck_off_steps == 0u || settings->stuck_within_steps == 0u ||
         settings->stuck_rise_centi_k == 0u)) {
        return DERATE_BAD_STUCK;
    }
    /*@ loop invariant 0 <= i <= settings->channels;
        loop invariant settings->share_q15 != \null ==>
          \forall integer k; 0 <= k < i ==> channel_sound(settings->share_q15, k);
        loop assigns i;
        loop variant settings->channels - i; */
    for (uint8_t i = 0u; settings->share_q15 != 0 && i < settings->channels; i++) {
        if (!shares_work(&settings->share_q15[i * DERATE_SHARE_KNOTS])) {
            return DERATE_BAD_SHARE;
        }
    }
    return derate_policy_check(settings->policy, settings->channels) ? DERATE_ACCEPTED
                                                                     : DERATE_BAD_POLICY;
}
