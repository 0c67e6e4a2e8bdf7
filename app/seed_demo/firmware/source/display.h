/* One-bit displays, 128 wide, 32 or 64 high, on the two-wire bus: drawn in a frame buffer, sent whole. */
#ifndef DISPLAY_H
#define DISPLAY_H
#include <stdint.h>

#define DISPLAY_WIDTH 128

struct display {
    uint8_t address, pages; /* a page is eight lines high */
    uint8_t *buffer;        /* pages x 128 bytes, given by the board */
};

void display_start(struct display *display);
void display_clear(struct display *display);
void display_box(struct display *display, uint8_t x, uint8_t y, uint8_t width, uint8_t height);
/* Draws a number in bars, right-aligned, each numeral 14 wide and 24 high. */
void display_number(struct display *display, uint8_t right, uint8_t y, int32_t number, uint8_t decimals);
/* Draws a bar of up to the full width, for a part of the whole in thousandths. */
void display_bar(struct display *display, uint8_t y, uint16_t thousandths);
void display_send(struct display *display);
#endif
