/* Chains on three pins of one port: output shift registers, and segment drivers of eight numerals. */
#ifndef CHAIN_H
#define CHAIN_H
#include <stdint.h>

struct chain {
    volatile uint8_t *port; /* PORTx; DDRx lies one address before it */
    uint8_t data, clock, latch;
};

void chain_start(const struct chain *chain);
/* Shifts bytes out, the last of the chain first, and takes them over. */
void chain_send(const struct chain *chain, const uint8_t *bytes, uint8_t count);

/* Segment drivers: a register and a value each, for every driver of the chain. */
void segments_start(const struct chain *chain, uint8_t drivers);
/* Writes a number into numerals first to first + count - 1 of a driver, with zeros in front. */
void segments_number(const struct chain *chain, uint8_t drivers, uint8_t driver, uint8_t first, uint8_t count,
                     uint32_t number);
#endif
