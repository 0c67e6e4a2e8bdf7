#include "chain.h"

#include <avr/io.h>
#include <avr/pgmspace.h>

#define REGISTER_DECODE 0x9
#define REGISTER_BRIGHTNESS 0xA
#define REGISTER_LIMIT 0xB
#define REGISTER_ON 0xC
#define REGISTER_TEST 0xF

static const uint8_t set_up[][2] PROGMEM = {
    {REGISTER_TEST, 0}, {REGISTER_LIMIT, 7}, {REGISTER_DECODE, 0xFF}, {REGISTER_BRIGHTNESS, 8}, {REGISTER_ON, 1},
};

void chain_start(const struct chain *chain)
{
    chain->port[-1] |= _BV(chain->data) | _BV(chain->clock) | _BV(chain->latch);
}

static void shift(const struct chain *chain, uint8_t byte)
{
    for (uint8_t bit = 0; bit < 8; bit++, byte <<= 1) {
        if (byte & 0x80)
            *chain->port |= _BV(chain->data);
        else
            *chain->port &= ~_BV(chain->data);
        *chain->port |= _BV(chain->clock);
        *chain->port &= ~_BV(chain->clock);
    }
}

void chain_send(const struct chain *chain, const uint8_t *bytes, uint8_t count)
{
    *chain->port &= ~_BV(chain->latch);
    while (count--)
        shift(chain, bytes[count]);
    *chain->port |= _BV(chain->latch);
}

/* Writes a register of one driver, the others of the chain left alone (register 0); all for driver 255. */
static void write(const struct chain *chain, uint8_t drivers, uint8_t driver, uint8_t place, uint8_t value)
{
    *chain->port &= ~_BV(chain->latch);
    for (uint8_t other = drivers; other--;) {
        uint8_t meant = driver == UINT8_MAX || driver == other;
        shift(chain, meant ? place : 0);
        shift(chain, meant ? value : 0);
    }
    *chain->port |= _BV(chain->latch);
}

void segments_start(const struct chain *chain, uint8_t drivers)
{
    chain_start(chain);
    for (uint8_t i = 0; i < sizeof set_up / sizeof *set_up; i++)
        write(chain, drivers, UINT8_MAX, pgm_read_byte(&set_up[i][0]), pgm_read_byte(&set_up[i][1]));
}

void segments_number(const struct chain *chain, uint8_t drivers, uint8_t driver, uint8_t first, uint8_t count,
                     uint32_t number)
{
    for (; count; count--, first++, number /= 10)
        write(chain, drivers, driver, first + 1, number % 10);
}
