/* BD01, panel P01: flight instruments. Signals carry the number of their function. */
#include <avr/io.h>

#include "bus.h"
#include "clock.h"
#include "display.h"
#include "encoder.h"
#include "gauge.h"
#include "link.h"
#include "scale.h"
#include "servo.h"

#define TURN 1080 /* steps of a third of a degree */
#define GAUGES 6

static struct gauge gauges[GAUGES] = {
    {.port = &PORTA, .first_bit = 0}, /* F001 airspeed */
    {.port = &PORTA, .first_bit = 4, .index_pins = &PINK, .index_bit = 0, .turn = TURN}, /* F002 altimeter */
    {.port = &PORTC, .first_bit = 0}, /* F005 climb rate */
    {.port = &PORTC, .first_bit = 4, .index_pins = &PINK, .index_bit = 1, .turn = TURN}, /* F006 roll ring */
    {.port = &PORTL, .first_bit = 0, .index_pins = &PINK, .index_bit = 2, .turn = TURN}, /* F008 heading card */
    {.port = &PORTL, .first_bit = 4}, /* F012 height above water */
};
enum { AIRSPEED, ALTIMETER, CLIMB, ROLL, HEADING, HEIGHT };
enum { PITCH, TURN_RATE, SLIP };

static struct encoder knobs[] = {
    {.pins = &PINF, .bit = 0, .number = 3}, /* altimeter setting */
    {.pins = &PINF, .bit = 2, .number = 9}, /* heading marker */
};

static const struct breakpoint airspeed[] PROGMEM = {
    {0, 0},       {20000, 40},   {30000, 85},   {40000, 145}, {60000, 270},
    {80000, 390}, {110000, 560}, {140000, 715}, {180000, 900},
};
static const struct breakpoint climb[] PROGMEM = {
    {-2000000, 0}, {-1500000, 60}, {-1000000, 135}, {-500000, 240}, {-200000, 340}, {0, 405},
    {200000, 470}, {500000, 570},  {1000000, 675},  {1500000, 750}, {2000000, 810},
};
static const struct breakpoint height[] PROGMEM = {
    {0, 0}, {3000, 150}, {7600, 300}, {15240, 450}, {30500, 580}, {61000, 700}, {106700, 810}, {152400, 900},
};
static const struct breakpoint pitch[] PROGMEM = {{-30000, 2000}, {30000, 4000}};
static const struct breakpoint turn_rate[] PROGMEM = {{-6000, 2200}, {6000, 3800}};
static const struct breakpoint slip[] PROGMEM = {{-1000, 2300}, {1000, 3700}};

static uint8_t picture[4 * DISPLAY_WIDTH];
static struct display window = {.address = 0x3C, .pages = 4, .buffer = picture};
static int32_t setting_hpa;
static uint8_t window_stale = 1;

#define POINTS(table) table, sizeof table / sizeof *table

static int16_t round_steps(int32_t value, int32_t turn)
{
    int32_t part = value % turn;
    if (part < 0)
        part += turn;
    return part / 100 * TURN / (turn / 100);
}

static void show(uint8_t number, int32_t value)
{
    switch (number) {
    case 1: gauges[AIRSPEED].target = scale_amount(POINTS(airspeed), value); break;
    case 2: gauges[ALTIMETER].target = round_steps(value, 1000000); break;
    case 4:
        setting_hpa = value / 1000;
        window_stale = 1;
        break;
    case 5: gauges[CLIMB].target = scale_amount(POINTS(climb), value); break;
    case 6: gauges[ROLL].target = round_steps(value, 360000); break;
    case 7: servo_set(PITCH, scale_amount(POINTS(pitch), value)); break;
    case 8: gauges[HEADING].target = round_steps(value, 360000); break;
    case 10: servo_set(TURN_RATE, scale_amount(POINTS(turn_rate), value)); break;
    case 11: servo_set(SLIP, scale_amount(POINTS(slip), value)); break;
    case 12: gauges[HEIGHT].target = scale_amount(POINTS(height), value); break;
    case 13:
        if (value)
            PORTG |= _BV(5);
        else
            PORTG &= ~_BV(5);
        break;
    }
}

int main(void)
{
    uint8_t number;
    int32_t value;

    DDRG |= _BV(5);
    servo_add(&PORTB, 4);
    servo_add(&PORTB, 5);
    servo_add(&PORTB, 6);
    clock_start();
    link_start(57600);
    bus_start();
    display_start(&window);
    gauges_start(gauges, GAUGES);
    encoders_start(knobs, 2);
    servos_start();
    for (;;) {
        while (link_take(&number, &value))
            show(number, value);
        if (!clock_tick())
            continue;
        gauges_step(gauges, GAUGES);
        encoders_scan(knobs, 2);
        if (link_lost()) {
            servos_rest();
            PORTG &= ~_BV(5);
        }
        if (window_stale && !gauges_homing(gauges, GAUGES)) {
            window_stale = 0;
            display_clear(&window);
            display_number(&window, 120, 4, setting_hpa, 0);
            display_send(&window);
        }
    }
}
