/* A step called through the address of a controller's own, which stands for its settings. */
#include <stdint.h>

typedef uint32_t (*own_step)(void *, const uint16_t *, const uint16_t *, uint16_t *);

uint32_t relay_step(own_step step, void *memory, const uint16_t *codes,
                    const uint16_t *requests_q15, uint16_t *duties_q15);

uint32_t relay_step(own_step step, void *memory, const uint16_t *codes,
                    const uint16_t *requests_q15, uint16_t *duties_q15)
{
    return step(memory, codes, requests_q15, duties_q15);
}
