/* BD05, panels P05 and P06: scoop and drop pedestal; hull, floats and wheels. */
#include <avr/io.h>

#include "analogue.h"
#include "chain.h"
#include "clock.h"
#include "contact.h"
#include "encoder.h"
#include "gauge.h"
#include "link.h"
#include "matrix.h"
#include "scale.h"
#include "servo.h"

#define LIGHTS 15
#define HOLD_COIL 6

static struct gauge slide = {.port = &PORTA, .first_bit = 0, .index_pins = &PINC, .index_bit = 0};
static struct encoder quantity = {.pins = &PINF, .bit = 2, .number = 57};
static struct contact direct[] = {
    {.pins = &PINF, .bit = 4, .number = 201}, /* push of the quantity knob: a number of its own */
    {.pins = &PINC, .bit = 1, .number = 55}, /* scoop lever up */
    {.pins = &PINC, .bit = 2, .number = 202}, /* scoop lever down: a number of its own */
    {.pins = &PINC, .bit = 3, .number = 66}, /* scoop hold switch */
};
static struct contact crossings[8] = {
    {.number = 63}, {.number = 64}, {.number = 65}, {.number = 72},
    {.number = 73}, {.number = 78}, {.number = 79}, {.number = 0},
};
static struct matrix matrix = {
    .pins = &PINK, .first_row = 4, .rows = 2, .first_column = 0, .columns = 4, .contacts = crossings,
};
static struct lever pattern = {.input = 0, .number = 56, .positions = 5, .told = -1};
static const struct chain numerals = {.port = &PORTL, .data = 0, .clock = 1, .latch = 2};
static const struct chain registers = {.port = &PORTL, .data = 3, .clock = 4, .latch = 5};
/* Functions of the lights in the order of the two registers. */
static const uint8_t light_of[LIGHTS] = {59, 60, 61, 62, 67, 68, 69, 70, 71, 74, 75, 76, 77, 80, 81};
static const struct breakpoint draught[] PROGMEM = {{0, 3800}, {300, 3350}, {700, 2820}, {1200, 2200}};

static uint8_t lit[2];
static uint8_t stale = 1;

static void show(uint8_t number, int32_t value)
{
    switch (number) {
    case 54: slide.target = value / 100 * 88 / 100; return; /* 0 to 100 % in 880 steps */
    case 58: segments_number(&numerals, 1, 0, 0, 4, value / 1000); return;
    case 66:
        if (value)
            PORTB |= _BV(HOLD_COIL);
        else
            PORTB &= ~_BV(HOLD_COIL);
        return;
    case 82: servo_set(0, scale_amount(draught, sizeof draught / sizeof *draught, value)); return;
    }
    for (uint8_t place = 0; place < LIGHTS; place++) {
        if (light_of[place] != number)
            continue;
        if (value)
            lit[place / 8] |= _BV(place % 8);
        else
            lit[place / 8] &= ~_BV(place % 8);
        stale = 1;
    }
}

int main(void)
{
    uint8_t number;
    int32_t value;

    DDRB |= _BV(HOLD_COIL);
    chain_start(&registers);
    chain_send(&registers, lit, sizeof lit);
    servo_add(&PORTB, 5);
    contacts_start(direct, 4);
    matrix_start(&matrix);
    encoders_start(&quantity, 1);
    analogue_start();
    clock_start();
    link_start(115200);
    segments_start(&numerals, 1);
    gauges_start(&slide, 1);
    servos_start();
    for (;;) {
        while (link_take(&number, &value))
            show(number, value);
        if (!clock_tick())
            continue;
        gauges_step(&slide, 1);
        encoders_scan(&quantity, 1);
        contacts_scan(direct, 4);
        matrix_scan(&matrix);
        levers_scan(&pattern, 1);
        if (link_lost()) {
            servos_rest();
            PORTB &= ~_BV(HOLD_COIL);
            stale |= lit[0] || lit[1];
            lit[0] = lit[1] = 0;
        }
        if (stale) {
            stale = 0;
            chain_send(&registers, lit, sizeof lit);
        }
    }
}
