#include "link.h"

#include "controller.h"

#define START 0x35u
#define STEP 0x5Cu
#define WELCOME 0xC9u
#define ANSWER 0x96u
#define START_BYTES 6u
#define CHECK_START 0xFFFFu
#define CHECK_POLYNOMIAL 0x1021u

static uint16_t checked(uint16_t check, uint8_t byte)
{
    check = (uint16_t)(check ^ (uint16_t)((uint16_t)byte << 8));
    for (uint8_t bit = 0u; bit < 8u; bit++) {
        uint16_t high = (uint16_t)(check & 0x8000u);
        check = (uint16_t)(check << 1);
        check = high != 0u ? (uint16_t)(check ^ CHECK_POLYNOMIAL) : check;
    }
    return check;
}

uint16_t link_check(const uint8_t *bytes, uint16_t count)
{
    uint16_t check = CHECK_START;
    for (uint16_t i = 0u; i < count; i++) {
        check = checked(check, bytes[i]);
    }
    return check;
}

static uint16_t put(struct link *line, uint16_t check, uint8_t byte)
{
    line->send(byte);
    return checked(check, byte);
}

static uint16_t put_word(struct link *line, uint16_t check, uint16_t word)
{
    check = put(line, check, (uint8_t)(word >> 8));
    return put(line, check, (uint8_t)(word & 0xFFu));
}

/* What both frames to the computer begin with. */
static uint16_t put_head(struct link *line, uint8_t kind)
{
    uint16_t check = put(line, CHECK_START, kind);
    check = put(line, check, (uint8_t)(kind ^ 0xFFu));
    check = put_word(line, check, line->session);
    return put_word(line, check, line->sequence);
}

static void put_welcome(struct link *line)
{
    uint16_t check = put_head(line, WELCOME);
    check = put_word(line, check, (uint16_t)((LINK_IDENTITY) >> 16));
    check = put_word(line, check, (uint16_t)((LINK_IDENTITY) & 0xFFFFu));
    check = put(line, check, LINK_SENSORS);
    check = put(line, check, LINK_CHANNELS);
    (void)put_word(line, check, check);
}

static void put_answer(struct link *line)
{
    uint16_t check = put_head(line, ANSWER);
    check = put_word(line, check, (uint16_t)(line->answer >> 16));
    check = put_word(line, check, (uint16_t)(line->answer & 0xFFFFu));
    for (uint16_t i = 0u; i < LINK_CHANNELS; i++) {
        check = put_word(line, check, line->duties_q15[i]);
    }
    (void)put_word(line, check, check);
}

static uint16_t word_at(const uint8_t *bytes)
{
    return (uint16_t)(((uint16_t)bytes[0] << 8) | bytes[1]);
}

static uint8_t begin(struct link *line, const uint8_t *frame)
{
    uint16_t session = word_at(&frame[2]);
    uint8_t fresh = session != 0u && session != line->session;
    if (fresh != 0u) {
        controller_start(line->controller);
        line->session = session;
        line->sequence = 0u;
        line->answer = 0u;
        for (uint16_t i = 0u; i < LINK_CHANNELS; i++) {
            line->duties_q15[i] = 0u;
        }
    }
    put_welcome(line);
    return fresh;
}

static void run(struct link *line, const uint8_t *words)
{
    uint16_t codes[LINK_SENSORS];
    uint16_t requests[LINK_CHANNELS];
    for (uint16_t i = 0u; i < LINK_SENSORS; i++) {
        codes[i] = word_at(&words[2u * i]);
    }
    for (uint16_t i = 0u; i < LINK_CHANNELS; i++) {
        requests[i] = word_at(&words[2u * (LINK_SENSORS + i)]);
    }
    line->answer = controller_step(line->controller, codes, requests, line->duties_q15);
}

static uint8_t step(struct link *line, const uint8_t *frame)
{
    uint16_t session = word_at(&frame[2]), sequence = word_at(&frame[4]);
    uint16_t next = (uint16_t)(line->sequence + 1u);
    uint8_t known = sequence == line->sequence || sequence == next;
    if (session == 0u || session != line->session || known == 0u) {
        put_welcome(line);
        return 0u;
    }
    uint8_t fresh = sequence == next;
    if (fresh != 0u) {
        run(line, &frame[6]);
        line->sequence = sequence;
    }
    put_answer(line);
    return fresh;
}

static uint8_t is_frame(const uint8_t *bytes, uint8_t kind, uint16_t count)
{
    return bytes[0] == kind && (uint8_t)(bytes[0] ^ bytes[1]) == 0xFFu &&
           link_check(bytes, count) == 0u;
}

void link_start(struct link *line, void *controller, void (*send)(uint8_t byte))
{
    line->controller = controller;
    line->send = send;
    line->answer = 0u;
    line->session = 0u;
    line->sequence = 0u;
    for (uint16_t i = 0u; i < LINK_CHANNELS; i++) {
        line->duties_q15[i] = 0u;
    }
    for (uint16_t i = 0u; i < LINK_STEP_BYTES; i++) {
        line->window[i] = 0u;
    }
}

uint8_t link_byte(struct link *line, uint8_t byte)
{
    uint8_t *shorter = &line->window[LINK_STEP_BYTES - START_BYTES];
    for (uint16_t i = 1u; i < LINK_STEP_BYTES; i++) {
        line->window[i - 1u] = line->window[i];
    }
    line->window[LINK_STEP_BYTES - 1u] = byte;
    if (is_frame(line->window, STEP, LINK_STEP_BYTES) != 0u) {
        return step(line, line->window);
    }
    return is_frame(shorter, START, START_BYTES) != 0u ? begin(line, shorter) : 0u;
}
