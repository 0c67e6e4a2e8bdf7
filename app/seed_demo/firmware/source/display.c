#include "display.h"

#include <avr/pgmspace.h>
#include <string.h>

#include "bus.h"

#define NUMERAL_WIDTH 14
#define NUMERAL_GAP 5

/* Which of the seven bars light for each figure: bit 0 the top, then clockwise, bit 6 the middle. */
static const uint8_t bars_lit[10] PROGMEM = {0x3F, 0x06, 0x5B, 0x4F, 0x66, 0x6D, 0x7D, 0x07, 0x7F, 0x6F};
/* Where the bars lie in a numeral: x, y, width, height. */
static const uint8_t bars[7][4] PROGMEM = {
    {2, 0, 10, 3}, {11, 2, 3, 9}, {11, 13, 3, 9}, {2, 21, 10, 3}, {0, 13, 3, 9}, {0, 2, 3, 9}, {2, 10, 10, 3},
};
/* Commands: off, height (filled in), charge pump on, addresses run across then down, contrast, on. */
static const uint8_t set_up[] PROGMEM = {0xAE, 0xA8, 0, 0x8D, 0x14, 0x20, 0x00, 0x81, 0x8F, 0xAF};

static void command(const struct display *display, uint8_t byte)
{
    if (bus_begin(display->address)) {
        bus_write(0x00);
        bus_write(byte);
    }
    bus_end();
}

void display_start(struct display *display)
{
    if (!display->buffer)
        return;
    for (uint8_t i = 0; i < sizeof set_up; i++)
        command(display, i == 2 ? display->pages * 8 - 1 : pgm_read_byte(&set_up[i]));
    display_clear(display);
    display_send(display);
}

void display_clear(struct display *display)
{
    if (display->buffer)
        memset(display->buffer, 0, display->pages * DISPLAY_WIDTH);
}

void display_box(struct display *display, uint8_t x, uint8_t y, uint8_t width, uint8_t height)
{
    if (!display->buffer)
        return;
    for (uint8_t line = y; line < y + height && line < display->pages * 8; line++)
        for (uint8_t column = x; column < x + width && column < DISPLAY_WIDTH; column++)
            display->buffer[line / 8 * DISPLAY_WIDTH + column] |= 1 << line % 8;
}

static void numeral(struct display *display, uint8_t x, uint8_t y, uint8_t figure)
{
    uint8_t lit = pgm_read_byte(&bars_lit[figure]);
    for (uint8_t bar = 0; bar < 7; bar++, lit >>= 1)
        if (lit & 1)
            display_box(display, x + pgm_read_byte(&bars[bar][0]), y + pgm_read_byte(&bars[bar][1]),
                        pgm_read_byte(&bars[bar][2]), pgm_read_byte(&bars[bar][3]));
}

void display_number(struct display *display, uint8_t right, uint8_t y, int32_t number, uint8_t decimals)
{
    uint8_t minus = number < 0, drawn = 0, x = right;
    if (minus)
        number = -number;
    do {
        if (x < NUMERAL_WIDTH + NUMERAL_GAP)
            return;
        x -= NUMERAL_WIDTH;
        numeral(display, x, y, number % 10);
        number /= 10;
        x -= NUMERAL_GAP;
        if (++drawn == decimals)
            display_box(display, x + 1, y + 21, 3, 3);
    } while (number || drawn <= decimals);
    if (minus && x >= 10)
        display_box(display, x - 10, y + 10, 10, 3);
}

void display_bar(struct display *display, uint8_t y, uint16_t thousandths)
{
    display_box(display, 0, y, DISPLAY_WIDTH, 1);
    display_box(display, 0, y + 2, (uint32_t)thousandths * DISPLAY_WIDTH / 1000, 6);
}

void display_send(struct display *display)
{
    if (!display->buffer)
        return;
    command(display, 0x21);
    command(display, 0);
    command(display, DISPLAY_WIDTH - 1);
    command(display, 0x22);
    command(display, 0);
    command(display, display->pages - 1);
    if (bus_begin(display->address)) {
        bus_write(0x40);
        for (uint16_t i = 0; i < display->pages * DISPLAY_WIDTH; i++)
            if (!bus_write(display->buffer[i]))
                break;
    }
    bus_end();
}
