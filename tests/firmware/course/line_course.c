/* A course of the board's end of the serial line: frames right and wrong, repeated and damaged. */
#include "controller.h"
#include "course.h"
#include "link.h"

#include <string.h>

#define MOST_SENT 64u

uint32_t course_identity;

static uint8_t sent[MOST_SENT];
static unsigned sent_count;
static unsigned starts, steps;
static uint8_t memory[4];

uint16_t controller_size(void)
{
    return sizeof memory;
}

void controller_start(void *state)
{
    promise(state == memory, "the controller gets its memory");
    starts++;
}

uint32_t controller_step(void *state, const uint16_t *codes, const uint16_t *requests_q15,
                         uint16_t *duties_q15)
{
    promise(state == memory, "the controller gets its memory");
    steps++;
    note(codes[0]);
    note(codes[LINK_SENSORS - 1u]);
    for (unsigned i = 0u; i < LINK_CHANNELS; i++) {
        duties_q15[i] = (uint16_t)(requests_q15[i] + i);
        note(requests_q15[i]);
    }
    return (uint32_t)codes[0] << 16 | codes[1];
}

static void send(uint8_t byte)
{
    promise(sent_count < MOST_SENT, "an answer is one frame");
    sent[sent_count++] = byte;
    note(byte);
}

static void give(struct link *line, uint8_t byte)
{
    unsigned started = starts, stepped = steps;
    sent_count = 0u;
    uint8_t fresh = link_byte(line, byte);
    promise(fresh == (starts - started) + (steps - stepped), "it says when duties are new");
    promise(sent_count == 0u || link_check(sent, (uint16_t)sent_count) == 0u, "an answer is whole");
    promise(sent_count != 0u || fresh == 0u, "what acts is answered");
    note(fresh);
    for (unsigned i = 0u; i < LINK_CHANNELS; i++) {
        note(line->duties_q15[i]);
    }
}

/* A frame, whole unless damage says which byte is changed. */
static void give_frame(struct link *line, uint8_t *frame, uint16_t count, uint8_t damage)
{
    uint16_t check = link_check(frame, (uint16_t)(count - 2u));
    unsigned acted = starts + steps;
    frame[count - 2u] = (uint8_t)(check >> 8);
    frame[count - 1u] = (uint8_t)check;
    if (damage != 0u) {
        frame[damage % count] ^= damage;
    }
    for (uint16_t i = 0u; i < count; i++) {
        give(line, frame[i]);
    }
    promise(damage == 0u || acted == starts + steps, "a damaged frame does not act");
}

static void give_step(struct link *line, uint8_t kind)
{
    uint8_t frame[LINK_STEP_BYTES] = {0x5Cu, 0xA3u};
    uint16_t session = kind % 16u == 0u ? (uint16_t)(line->session + 1u) : line->session;
    uint16_t sequence = (uint16_t)(line->sequence + ONE_OF(uint16_t, 1u, 1u, 1u, 0u, 2u, 65535u));
    frame[2] = (uint8_t)(session >> 8);
    frame[3] = (uint8_t)session;
    frame[4] = (uint8_t)(sequence >> 8);
    frame[5] = (uint8_t)sequence;
    for (unsigned i = 6u; i < LINK_STEP_BYTES - 2u; i++) {
        frame[i] = take();
    }
    if (kind % 8u == 6u) { /* whole, but no frame of ours */
        unsigned acted = starts + steps;
        frame[1] = ONE_OF(uint8_t, 0xFFu, 0x5Cu, 0xA2u, 0x23u);
        give_frame(line, frame, LINK_STEP_BYTES, 0u);
        promise(acted == starts + steps, "a frame of another kind does not act");
    } else {
        give_frame(line, frame, LINK_STEP_BYTES, kind % 8u == 7u ? take() : 0u);
    }
}

/* Begins on memory that holds a frame but for its last byte, or the first byte of one: neither
 * counts. */
static void begin_anew(struct link *line)
{
    uint8_t frame[LINK_STEP_BYTES] = {0x35u, 0xCAu, 1u, 1u};
    uint16_t start = link_check(frame, 4u), acted = (uint16_t)(starts + steps);
    frame[4] = (uint8_t)(start >> 8);
    memset(line, 0xA5, sizeof *line);
    memcpy(&line->window[LINK_STEP_BYTES - 5u], frame, 5u);
    link_start(line, memory, send);
    give(line, (uint8_t)start);
    promise(acted == (uint16_t)(starts + steps), "a start forgets what came before");
    memset(frame, 0, sizeof frame);
    frame[0] = 0x5Cu;
    frame[1] = 0xA3u;
    uint16_t check = link_check(frame, LINK_STEP_BYTES - 2u);
    frame[LINK_STEP_BYTES - 2u] = (uint8_t)(check >> 8);
    frame[LINK_STEP_BYTES - 1u] = (uint8_t)check;
    line->window[LINK_STEP_BYTES - 1u] = frame[0];
    link_start(line, memory, send);
    for (unsigned i = 1u; i < LINK_STEP_BYTES; i++) {
        give(line, frame[i]);
    }
}

void run_course(void)
{
    struct link line;
    starts = 0u;
    steps = 0u;
    course_identity = ONE_OF(uint32_t, 0x1234FFFFu, 0x12340000u, 0x56789ABDu);
    begin_anew(&line);
    give_step(&line, 1u);
    while (more() != 0u) {
        uint8_t kind = take();
        if (kind < 150u) {
            give_step(&line, kind);
        } else if (kind < 200u) {
            uint16_t session = ONE_OF(uint16_t, 0u, 1u, 2u, 0x0100u, 65535u);
            uint8_t frame[6] = {0x35u, 0xCAu, (uint8_t)(session >> 8), (uint8_t)session, 0u, 0u};
            give_frame(&line, frame, 6u, kind % 8u == 7u ? take() : 0u);
            if (kind % 4u == 0u) {
                line.sequence = ONE_OF(uint16_t, 255u, 65534u, 65535u);
            }
        } else if (kind < 204u) {
            begin_anew(&line);
        } else {
            give(&line, kind < 210u ? 0x35u : kind < 220u ? 0x5Cu : take());
        }
        note(line.session);
        note(line.sequence);
    }
}
