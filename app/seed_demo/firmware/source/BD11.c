/* BD11, panel P15: clock, drop timer and seconds pointer. The timer runs in the board. */
#include <avr/io.h>

#include "chain.h"
#include "clock.h"
#include "contact.h"
#include "gauge.h"
#include "link.h"

#define DRIVERS 2
#define TURN 1080

enum { CLOCK, TIMER };

static struct gauge seconds = {
    .port = &PORTB, .first_bit = 0, .index_pins = &PIND, .index_bit = 2, .turn = TURN,
};
static struct contact buttons[] = {
    {.pins = &PIND, .bit = 3, .number = 161}, /* start and stop */
    {.pins = &PIND, .bit = 4, .number = 162}, /* reset */
};
static const struct chain numerals = {.port = &PORTC, .data = 0, .clock = 1, .latch = 2};
static uint32_t timer_ms;
static uint8_t timer_runs;

/* Hours, minutes and seconds, two figures each, from a count of seconds. */
static uint32_t figures(uint32_t count)
{
    return count / 3600 % 24 * 10000 + count / 60 % 60 * 100 + count % 60;
}

static void show(uint8_t number, int32_t value)
{
    uint32_t count = value / 1000;
    if (number != 159)
        return;
    segments_number(&numerals, DRIVERS, CLOCK, 0, 8, figures(count));
    seconds.target = count % 60 * (TURN / 60);
}

int main(void)
{
    uint8_t number, start_was = 0;
    int32_t value;
    uint32_t shown = UINT32_MAX;

    contacts_start(buttons, 2);
    clock_start();
    link_start(57600);
    segments_start(&numerals, DRIVERS);
    gauges_start(&seconds, 1);
    for (;;) {
        while (link_take(&number, &value))
            show(number, value);
        if (!clock_tick())
            continue;
        contacts_scan(buttons, 2);
        gauges_step(&seconds, 1);
        if (buttons[0].closed && !start_was)
            timer_runs = !timer_runs;
        start_was = buttons[0].closed;
        if (buttons[1].closed)
            timer_ms = 0;
        else if (timer_runs)
            timer_ms++;
        if (timer_ms / 1000 != shown) {
            shown = timer_ms / 1000;
            segments_number(&numerals, DRIVERS, TIMER, 0, 6, figures(shown));
        }
    }
}
