/* Addressable pixels on one pin (bit 6 of port D): three bytes each, 800 000 bits a second.
 *
 * Interrupts are off while they are sent, 30 us a pixel, so it is done only when the line is quiet. */
#ifndef PIXELS_H
#define PIXELS_H
#include <stdint.h>

void pixels_start(void);
void pixels_send(const uint8_t *colours, uint16_t bytes);
#endif
