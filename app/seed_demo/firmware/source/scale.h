/* Scales of uneven dials: breakpoints in program memory, straight lines between them. */
#ifndef SCALE_H
#define SCALE_H
#include <avr/pgmspace.h>
#include <stdint.h>

struct breakpoint {
    int32_t value;  /* thousandths of the signal's unit, rising */
    int16_t amount; /* steps of a gauge stepper, or half microseconds of a servo's pulse */
};

int16_t scale_amount(const struct breakpoint *points, uint8_t count, int32_t value);
#endif
