#include "clock.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>
#include <util/atomic.h>

static volatile uint32_t milliseconds;
static volatile uint8_t waiting;

ISR(TIMER0_COMPA_vect)
{
    milliseconds++;
    if (waiting < UINT8_MAX)
        waiting++;
}

void clock_start(void)
{
    OCR0A = F_CPU / 64 / 1000 - 1;
    TCCR0A = _BV(WGM01);
    TCCR0B = _BV(CS01) | _BV(CS00);
    TIMSK0 = _BV(OCIE0A);
    wdt_enable(WDTO_500MS);
    sei();
}

uint32_t clock_ms(void)
{
    uint32_t now;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { now = milliseconds; }
    return now;
}

uint8_t clock_tick(void)
{
    uint8_t due = 0;
    wdt_reset();
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        if (waiting) {
            waiting--;
            due = 1;
        }
    }
    return due;
}
