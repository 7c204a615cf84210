/* Runs an AVR of the simavr library from one address to another, and counts each step of the
 * controller as ledger.c does, with the library's own cycles. */
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>

#include <simavr/sim_avr.h>
#include <simavr/sim_core.h>

struct avr_run {
    avr_t *avr;
    uint32_t *row_instructions;
    uint32_t *row_cycles;
    uint64_t cycles_before;
    uint64_t most; /* instructions until it is given up */
    uint32_t driver_at;
    uint32_t driver_end;
    uint32_t entry;
    uint32_t rows;
    uint32_t row;
    uint32_t entry_stack; /* the stack pointer when the controller was entered */
    uint32_t lowest;      /* that it has been since */
};

static void say_nothing(avr_t *avr, const int level, const char *format, va_list values)
{
    (void)avr;
    (void)level;
    (void)format;
    (void)values;
}

avr_t *run_made(const char *name);
uint8_t *run_memory(avr_t *avr);
uint8_t *run_flash(avr_t *avr);
uint32_t run_address(avr_t *avr);
uint32_t run_until(struct avr_run *run, uint32_t from, uint32_t until, uint32_t stack);

static uint32_t stack_pointer(const avr_t *avr)
{
    return (uint32_t)avr->data[R_SPL] | (uint32_t)avr->data[R_SPH] << 8;
}

avr_t *run_made(const char *name)
{
    avr_global_logger_set(say_nothing);
    avr_t *avr = avr_make_mcu_by_name(name);
    if (avr != NULL) {
        avr_init(avr);
        avr->log = 0;
        avr->codeend = avr->flashend;
    }
    return avr;
}

uint8_t *run_memory(avr_t *avr)
{
    return avr->data;
}

uint8_t *run_flash(avr_t *avr)
{
    return avr->flash;
}

uint32_t run_address(avr_t *avr)
{
    return avr->pc;
}

/* 0: arrived; 1: crashed; 2: took too long. */
uint32_t run_until(struct avr_run *run, uint32_t from, uint32_t until, uint32_t stack)
{
    avr_t *avr = run->avr;
    uint32_t inside = 0u, counted = 0u;
    avr->pc = from;
    avr->state = cpu_Running;
    avr->data[R_SPL] = (uint8_t)stack;
    avr->data[R_SPH] = (uint8_t)(stack >> 8);
    avr->data[1] = 0u; /* the compiler's zero register */
    for (uint64_t done = 0u; avr->pc != until; done++) {
        if (done >= run->most) {
            return 2u;
        }
        if (!inside && avr->pc == run->entry) {
            inside = 1u;
            counted = 0u;
            run->cycles_before = avr->cycle;
            run->entry_stack = stack_pointer(avr);
        } else if (inside && avr->pc >= run->driver_at && avr->pc < run->driver_end) {
            inside = 0u;
            if (run->row < run->rows) {
                run->row_instructions[run->row] = counted;
                run->row_cycles[run->row] = (uint32_t)(avr->cycle - run->cycles_before);
                run->row++;
            }
        }
        counted++;
        avr->run_cycle_count = 0;
        avr->pc = avr_run_one(avr);
        if (avr->state != cpu_Running) {
            return 1u;
        }
        uint32_t now = stack_pointer(avr);
        if (inside && now < run->lowest) {
            run->lowest = now;
        }
    }
    return 0u;
}
