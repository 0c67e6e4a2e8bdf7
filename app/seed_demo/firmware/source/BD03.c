/* BD03, panel P03: caution strip, 17 addressable pixels and two buttons. */
#include <avr/io.h>

#include "clock.h"
#include "contact.h"
#include "link.h"
#include "pixels.h"

#define PIXELS 17
#define LAMP_TEST 42
#define FIRST_LIGHT 26
#define LAST_LIGHT 41
#define MASTER 44

static const uint8_t colours[4][3] = {
    /* green, red, blue: the order in which the pixels take them */
    {0, 96, 0},   /* red */
    {40, 96, 0},  /* amber */
    {12, 0, 96},  /* blue */
    {96, 0, 8},   /* green */
};
/* Which colour each light has, F026 to F041, then F044. */
static const uint8_t colour_of[PIXELS] = {0, 0, 0, 0, 1, 1, 1, 1, 1, 1, 2, 1, 1, 1, 1, 3, 1};

static struct contact buttons[] = {
    {.pins = &PIND, .bit = 3, .number = LAMP_TEST},
    {.pins = &PIND, .bit = 4, .number = 43},
};
static uint8_t lit[PIXELS];
static uint8_t picture[PIXELS * 3];
static uint8_t stale = 1;

static void show(uint8_t number, int32_t value)
{
    uint8_t place;
    if (number >= FIRST_LIGHT && number <= LAST_LIGHT)
        place = number - FIRST_LIGHT;
    else if (number == MASTER)
        place = PIXELS - 1;
    else
        return;
    if (lit[place] != (value != 0)) {
        lit[place] = value != 0;
        stale = 1;
    }
}

static void send(uint8_t all)
{
    for (uint8_t place = 0; place < PIXELS; place++)
        for (uint8_t colour = 0; colour < 3; colour++)
            picture[place * 3 + colour] = lit[place] || all ? colours[colour_of[place]][colour] : 0;
    pixels_send(picture, sizeof picture);
}

int main(void)
{
    uint8_t number, tested = 0, lost = 0;
    int32_t value;

    pixels_start();
    contacts_start(buttons, 2);
    clock_start();
    link_start(115200);
    for (;;) {
        while (link_take(&number, &value))
            show(number, value);
        if (!clock_tick())
            continue;
        contacts_scan(buttons, 2);
        if (buttons[0].closed != tested || link_lost() != lost) {
            tested = buttons[0].closed;
            lost = link_lost();
            stale = 1;
            if (lost)
                for (uint8_t place = 0; place < PIXELS; place++)
                    lit[place] = 0;
        }
        if (stale) {
            stale = 0;
            send(tested);
        }
    }
}
