/* A board as a process: what comes on standard input is its serial line, and what it sends goes to
 * standard output. Standard error gets an s for every step that the controller ran, a d whenever it
 * begins, which makes it dark. */
#include <stdint.h>
#include <unistd.h>

#include "controller.h"
#include "link.h"

static uint32_t memory[256];
static struct link line;

static void send(uint8_t byte)
{
    if (write(1, &byte, 1) != 1) {
        _exit(1);
    }
}

int main(void)
{
    uint8_t byte;
    if (controller_size() > sizeof memory) {
        return 2;
    }
    link_start(&line, memory, send);
    while (read(0, &byte, 1) == 1) {
        if (link_byte(&line, byte) != 0u) {
            uint16_t lit = 0u;
            for (uint16_t i = 0u; i < LINK_CHANNELS; i++) {
                lit |= line.duties_q15[i];
            }
            if (write(2, line.sequence != 0u ? "s" : lit == 0u ? "d" : "?", 1) != 1) {
                return 1;
            }
        }
    }
    return 0;
}
