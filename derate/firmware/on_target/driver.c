/* Runs a controller on an emulated core: the host writes the mail, sets the program counter to
 * driver_go and lets the core go until driver_done. None of it counts as the controller's. */
#include <stdint.h>

#include "controller.h"

#define SIZE 0u
#define START 1u
#define STEP 2u
#define ROWS 3u

/* Where the memory of one step lies, and of many; see derate/firmware/mailbox.py. */
struct driver_mail {
    uint32_t answer;
    uintptr_t state;
    uintptr_t codes;
    uintptr_t requests;
    uintptr_t duties;
    uintptr_t put_codes;    /* codes and requests once more, at an address that may be written to; */
    uintptr_t put_requests; /* the controller gets one that may not, where the core can tell them */
    uintptr_t saved; /* state from which every row begins; 0: rows go on from each other */
    uintptr_t in_codes;
    uintptr_t in_requests;
    uintptr_t out_duties;
    uintptr_t out_answers;
    uint16_t task;
    uint16_t rows;
    uint16_t sensors;
    uint16_t channels;
    uint16_t size;
};

#define HERE __attribute__((section(".driver"), used, noinline))

volatile struct driver_mail driver_mail __attribute__((section(".mail"), used));

HERE static void copy_bytes(uintptr_t to, uintptr_t from, uint16_t bytes)
{
    for (uint16_t i = 0u; i < bytes; i++) {
        ((volatile uint8_t *)to)[i] = ((volatile uint8_t *)from)[i];
    }
}

HERE static uint32_t step(void)
{
    return controller_step((void *)driver_mail.state, (const uint16_t *)driver_mail.codes,
                           (const uint16_t *)driver_mail.requests,
                           (uint16_t *)driver_mail.duties);
}

HERE static void run_rows(void)
{
    uint16_t code_bytes = (uint16_t)(2u * driver_mail.sensors);
    uint16_t channel_bytes = (uint16_t)(2u * driver_mail.channels);
    uintptr_t codes = driver_mail.in_codes;
    uintptr_t requests = driver_mail.in_requests;
    uintptr_t duties = driver_mail.out_duties;
    uintptr_t answers = driver_mail.out_answers;
    for (uint16_t row = 0u; row < driver_mail.rows; row++) {
        if (driver_mail.saved != 0u) {
            copy_bytes(driver_mail.state, driver_mail.saved, driver_mail.size);
        }
        copy_bytes(driver_mail.put_codes, codes, code_bytes);
        copy_bytes(driver_mail.put_requests, requests, channel_bytes);
        uint32_t answer = step();
        copy_bytes(answers, (uintptr_t)&answer, 4u);
        copy_bytes(duties, driver_mail.duties, channel_bytes);
        codes += code_bytes;
        requests += channel_bytes;
        duties += channel_bytes;
        answers += 4u;
    }
}

HERE void driver_run(void)
{
    if (driver_mail.task == SIZE) {
        driver_mail.size = controller_size();
    } else if (driver_mail.task == START) {
        controller_start((void *)driver_mail.state);
    } else if (driver_mail.task == STEP) {
        driver_mail.answer = step();
    } else {
        run_rows();
    }
}

#if defined(__AVR__)
__asm__(".section .driver,\"ax\",@progbits\n.global driver_go\n.global driver_done\n"
        "driver_go: call driver_run\ndriver_done: rjmp driver_done\n.text\n");
#elif defined(__riscv)
__asm__(".section .driver,\"ax\",@progbits\n.global driver_go\n.global driver_done\n"
        "driver_go: call driver_run\ndriver_done: j driver_done\n.text\n");
#else
__asm__(".section .driver,\"ax\",%progbits\n.thumb\n.global driver_go\n.global driver_done\n"
        ".thumb_func\ndriver_go: bl driver_run\n.thumb_func\ndriver_done: b driver_done\n.text\n");
#endif
