/* What the compiled table says of every code there is. */
#include "ntc_reading.h"

void table_walk(int16_t *states, int16_t *readings);

void table_walk(int16_t *states, int16_t *readings)
{
    uint32_t code;
    for (code = 0u; code <= UINT32_C(65535); code++) {
        states[code] = (int16_t)ntc_reading((uint16_t)code, &readings[code]);
    }
}
