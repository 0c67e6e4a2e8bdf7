/* BD08, panels P10 and P14: flap and trim quadrant; lights and ice. */
#include <avr/io.h>

#include "analogue.h"
#include "clock.h"
#include "contact.h"
#include "encoder.h"
#include "link.h"
#include "matrix.h"
#include "scale.h"
#include "servo.h"

#define TRIM_RUNNING 7

enum { FLAP, TRIM };

static struct lever levers[] = {
    {.input = 0, .number = 111, .told = -DEAD_ZONE}, /* flap lever */
    {.input = 1, .number = 115, .told = -DEAD_ZONE}, /* rudder trim knob */
    {.input = 2, .number = 158, .told = -DEAD_ZONE}, /* flood dimmer */
};
static struct encoder wheel = {.pins = &PINC, .bit = 0, .number = 113};
/* Eight switches, then the three positions of the propeller de-ice selector, with numbers of their own. */
static struct contact crossings[12] = {
    {.number = 149}, {.number = 150}, {.number = 151}, {.number = 152}, {.number = 153}, {.number = 154},
    {.number = 155}, {.number = 156}, {.number = 201}, {.number = 202}, {.number = 203}, {.number = 0},
};
static struct matrix matrix = {
    .pins = &PINK, .first_row = 4, .rows = 3, .first_column = 0, .columns = 4, .contacts = crossings,
};
static const struct breakpoint flap[] PROGMEM = {{0, 2050}, {10000, 2600}, {20000, 3130}, {35000, 3920}};
static const struct breakpoint trim[] PROGMEM = {{-100000, 2100}, {0, 2990}, {100000, 3880}};

static void show(uint8_t number, int32_t value)
{
    switch (number) {
    case 112: servo_set(FLAP, scale_amount(flap, sizeof flap / sizeof *flap, value)); break;
    case 114: servo_set(TRIM, scale_amount(trim, sizeof trim / sizeof *trim, value)); break;
    case 116:
        if (value)
            PORTB |= _BV(TRIM_RUNNING);
        else
            PORTB &= ~_BV(TRIM_RUNNING);
        break;
    }
}

int main(void)
{
    uint8_t number;
    int32_t value;

    DDRB |= _BV(TRIM_RUNNING);
    servo_add(&PORTB, 5);
    servo_add(&PORTB, 6);
    matrix_start(&matrix);
    encoders_start(&wheel, 1);
    analogue_start();
    clock_start();
    link_start(57600);
    servos_start();
    for (;;) {
        while (link_take(&number, &value))
            show(number, value);
        if (!clock_tick())
            continue;
        levers_scan(levers, 3);
        encoders_scan(&wheel, 1);
        matrix_scan(&matrix);
        if (link_lost()) {
            servos_rest();
            PORTB &= ~_BV(TRIM_RUNNING);
        }
    }
}
