/* BD06, panel P07: fuel. Written before the wiring: the crossfeed selector (F086) waits for four pins that
 * this board does not have. The display's frame buffer is a plain array, so the linker's figure shows it. */
#include <avr/io.h>

#include "bus.h"
#include "clock.h"
#include "contact.h"
#include "display.h"
#include "gauge.h"
#include "link.h"
#include "scale.h"

#define GAUGES 3

static struct gauge gauges[GAUGES] = {
    {.port = &PORTB, .first_bit = 0}, /* F083 left */
    {.port = &PORTC, .first_bit = 0}, /* F084 right */
    {.port = &PORTD, .first_bit = 4}, /* F085 centre */
};
static struct contact pumps[] = {
    {.pins = &PIND, .bit = 2, .number = 87},
    {.pins = &PIND, .bit = 3, .number = 88},
};
static const struct breakpoint kilograms[] PROGMEM = {
    {0, 0}, {50000, 90}, {150000, 230}, {350000, 470}, {550000, 705}, {700000, 870},
};
static uint8_t picture[4 * DISPLAY_WIDTH];
static struct display total = {.address = 0x3C, .pages = 4, .buffer = picture};
static int32_t total_kg;
static uint8_t stale = 1;

static void light(uint8_t bit, int32_t value)
{
    if (value)
        PORTB |= _BV(bit);
    else
        PORTB &= ~_BV(bit);
}

static void show(uint8_t number, int32_t value)
{
    switch (number) {
    case 83:
    case 84:
    case 85:
        gauges[number - 83].target = scale_amount(kilograms, sizeof kilograms / sizeof *kilograms, value);
        break;
    case 89: light(4, value); break;
    case 90: light(5, value); break;
    case 91:
        total_kg = value / 1000;
        stale = 1;
        break;
    }
}

int main(void)
{
    uint8_t number;
    int32_t value;

    DDRB |= _BV(4) | _BV(5);
    contacts_start(pumps, 2);
    clock_start();
    link_start(115200);
    bus_start();
    display_start(&total);
    gauges_start(gauges, GAUGES);
    for (;;) {
        while (link_take(&number, &value))
            show(number, value);
        if (!clock_tick())
            continue;
        gauges_step(gauges, GAUGES);
        contacts_scan(pumps, 2);
        if (link_lost()) {
            light(4, 0);
            light(5, 0);
        }
        if (stale && !gauges_homing(gauges, GAUGES)) {
            stale = 0;
            display_clear(&total);
            display_number(&total, 120, 4, total_kg, 0);
            display_send(&total);
        }
    }
}
