/* The three functions every controller in C offers, ours or yours. */
#ifndef CONTROLLER_H
#define CONTROLLER_H

#include <stdint.h>

/* Bytes of memory to hand to the other two, aligned for uint32_t. */
uint16_t controller_size(void);

/* Begins afresh. */
void controller_start(void *state);

/* One control period: codes (one per sensor) and requests (one per channel, 32768 = 1.0) to
 * duties (one per channel, 32768 = 1.0). Returns status flags | limit_q15 << 16. */
uint32_t controller_step(void *state, const uint16_t *codes, const uint16_t *requests_q15,
                         uint16_t *duties_q15);

#endif
