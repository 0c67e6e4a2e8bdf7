/* BD04, panel P04: water tanks. Each display claims its frame buffer of 1,024 bytes when it is started, as
 * display libraries do: the two of them are all the memory that the chip has, and no figure of the linker
 * shows it. The second claim fails here and that display stays dark; a program that does not ask draws garbage. */
#include <avr/io.h>
#include <stdlib.h>

#include "analogue.h"
#include "bus.h"
#include "clock.h"
#include "contact.h"
#include "display.h"
#include "link.h"
#include "scale.h"
#include "servo.h"

#define FOAM_FULL 300

enum { FORWARD, AFT };

static struct display total = {.address = 0x3C, .pages = 8};
static struct display foam = {.address = 0x3D, .pages = 8};
static struct contact switches[] = {
    {.pins = &PIND, .bit = 2, .number = 50}, /* foam arm */
    {.pins = &PIND, .bit = 3, .number = 51}, /* tank vent */
};
static struct lever ratio = {.input = 0, .number = 49, .positions = 6, .told = -1};
/* The tanks have a hull's shape: few litres at the bottom, many at the top. Pulses in half microseconds. */
static const struct breakpoint litres[] PROGMEM = {
    {0, 3900},       {60000, 3700},   {180000, 3490},  {370000, 3270},  {640000, 3050},
    {1000000, 2830}, {1440000, 2620}, {1930000, 2420}, {2460000, 2240}, {3000000, 2080},
};
static int32_t total_litres, foam_litres;
static uint8_t stale = 1;

static void light(uint8_t bit, int32_t value)
{
    if (value)
        PORTD |= _BV(bit);
    else
        PORTD &= ~_BV(bit);
}

static void show(uint8_t number, int32_t value)
{
    switch (number) {
    case 45: servo_set(FORWARD, scale_amount(litres, sizeof litres / sizeof *litres, value)); break;
    case 46: servo_set(AFT, scale_amount(litres, sizeof litres / sizeof *litres, value)); break;
    case 47:
        total_litres = value / 1000;
        stale = 1;
        break;
    case 48:
        foam_litres = value / 1000;
        stale = 1;
        break;
    case 52: light(6, value); break;
    case 53: light(7, value); break;
    }
}

static void draw(struct display *display, int32_t litres_now, int16_t litres_full)
{
    int32_t part = litres_now * 1000 / litres_full;
    display_clear(display);
    display_number(display, 112, 8, litres_now, 0);
    display_bar(display, 48, part < 0 ? 0 : part > 1000 ? 1000 : part);
    display_send(display);
}

int main(void)
{
    uint8_t number;
    int32_t value;

    DDRD |= _BV(6) | _BV(7);
    total.buffer = malloc(total.pages * DISPLAY_WIDTH);
    foam.buffer = malloc(foam.pages * DISPLAY_WIDTH);
    servo_add(&PORTB, 1);
    servo_add(&PORTB, 2);
    contacts_start(switches, 2);
    analogue_start();
    clock_start();
    link_start(57600);
    bus_start();
    display_start(&total);
    display_start(&foam);
    servos_start();
    for (;;) {
        while (link_take(&number, &value))
            show(number, value);
        if (!clock_tick())
            continue;
        contacts_scan(switches, 2);
        levers_scan(&ratio, 1);
        if (link_lost()) {
            servos_rest();
            light(6, 0);
            light(7, 0);
        }
        if (stale) {
            stale = 0;
            draw(&total, total_litres, 6000);
            draw(&foam, foam_litres, FOAM_FULL);
        }
    }
}
