/* The board's end of a serial line to derate: codes and requests come in, duties go out.
 *
 * With `body = "serial:PORT@BAUD"` in the lamp file the computer plays the lamp and the board runs
 * its controller. A frame is two bytes that tell its kind, the second the complement of the first;
 * words of two bytes, the high byte first; and the CRC-16 of all bytes before it.
 *
 *   to the board    START    35 CA  session                                            6 bytes
 *                   STEP     5C A3  session, sequence, codes, requests      8 + 2 (S + C) bytes
 *   from the board  WELCOME  C9 36  session, sequence, identity (2 words),
 *                                   sensors and channels (a byte each)                14 bytes
 *                   ANSWER   96 69  session, sequence, limit, status, duties     12 + 2 C bytes
 *
 * START of a session other than the board's begins the controller afresh with all duties 0; session
 * 0 only asks. Both are answered by WELCOME. A STEP whose sequence is one more than the last runs
 * the controller; one with the last sequence is a repeat, and gets the last answer once more. Any
 * other is answered by WELCOME: of a board that was reset its session is 0.
 *
 * Whatever bytes come, a whole frame after them is found: the last bytes are a frame or they are
 * not. A frame with one damaged byte, or with damage within 16 bits, never passes for a right one. */
#ifndef LINK_H
#define LINK_H

#include <stdint.h>

#include "link_settings.h" /* generated: LINK_SENSORS, LINK_CHANNELS, LINK_IDENTITY */

#define LINK_STEP_BYTES (8u + 2u * (LINK_SENSORS + LINK_CHANNELS))

/* The caller's memory of the line; only duties_q15 is of use outside. */
struct link {
    void *controller;
    void (*send)(uint8_t byte);
    uint32_t answer;                    /* of the last step, as controller_step returned it */
    uint16_t duties_q15[LINK_CHANNELS]; /* to drive, 32768 = 1.0 */
    uint16_t session;                   /* 0: not started since the reset */
    uint16_t sequence;
    uint8_t window[LINK_STEP_BYTES]; /* the last bytes that came */
};

/* Once after a reset. controller: memory of controller_size() bytes, aligned for uint32_t. send:
 * yours, sends a byte and may wait until there is room for it. */
void link_start(struct link *line, void *controller, void (*send)(uint8_t byte));

/* Every byte that came, in order, from one place. Returns 1 when duties_q15 are new. */
uint8_t link_byte(struct link *line, uint8_t byte);

/* The frame's CRC-16: polynomial 0x1021, from 0xFFFF, high bit first (CRC-16/IBM-3740). Of the
 * digits 1 to 9 as text it is 0x29B1; of a whole frame, its own CRC included, 0. */
uint16_t link_check(const uint8_t *bytes, uint16_t count);

#endif
