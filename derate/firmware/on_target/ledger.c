/* Counts what each step of an emulated controller takes; called before every instruction.
 * An instruction of the driver ends a step, the entry of controller_step begins one. */
#include <stdint.h>

struct ledger {
    const uint8_t *cycles; /* of every half-word of code; of a branch: not taken */
    const uint8_t *taken;  /* what it takes more where the next instruction does not follow */
    uint32_t *row_instructions;
    uint32_t *row_cycles;
    uint64_t at;   /* the instruction that runs */
    uint64_t askew_at; /* the first that accessed memory at no multiple of the size, 0: none did */
    uint64_t next; /* where the next instruction would follow */
    uint32_t code_at;
    uint32_t code_end;
    uint32_t driver_at;
    uint32_t driver_end;
    uint32_t entry;
    uint32_t rows; /* that there is room for */
    uint32_t row;
    uint32_t inside;
    uint32_t more;
    uint32_t instructions_now;
    uint32_t cycles_now;
};

void ledger_note(void *engine, uint64_t address, uint32_t size, void *kept);
void ledger_access(void *engine, int kind, uint64_t address, int size, int64_t value, void *kept);

/* Called at every access to memory. */
void ledger_access(void *engine, int kind, uint64_t address, int size, int64_t value, void *kept)
{
    struct ledger *ledger = kept;
    (void)engine;
    (void)kind;
    (void)value;
    if (ledger->inside && ledger->askew_at == 0u && (address & ((uint64_t)size - 1u)) != 0u) {
        ledger->askew_at = ledger->at;
    }
}

void ledger_note(void *engine, uint64_t address, uint32_t size, void *kept)
{
    struct ledger *ledger = kept;
    (void)engine;
    if (!ledger->inside) {
        if (address != ledger->entry) {
            return;
        }
        ledger->inside = 1u;
        ledger->more = 0u;
        ledger->instructions_now = 0u;
        ledger->cycles_now = 0u;
    } else if (address != ledger->next) {
        ledger->cycles_now += ledger->more;
    }
    if (address >= ledger->driver_at && address < ledger->driver_end) {
        if (ledger->row < ledger->rows) {
            ledger->row_instructions[ledger->row] = ledger->instructions_now;
            ledger->row_cycles[ledger->row] = ledger->cycles_now;
            ledger->row++;
        }
        ledger->inside = 0u;
        return;
    }
    ledger->instructions_now++;
    ledger->at = address;
    ledger->next = address + size;
    ledger->more = 0u;
    if (address >= ledger->code_at && address < ledger->code_end) {
        uint32_t place = (uint32_t)(address - ledger->code_at) / 2u;
        ledger->cycles_now += ledger->cycles[place];
        ledger->more = ledger->taken[place];
    }
}
