/* Endless knobs with two contacts, four changes a click. */
#ifndef ENCODER_H
#define ENCODER_H
#include <stdint.h>

struct encoder {
    volatile uint8_t *pins;
    uint8_t bit; /* of the first contact; the second is the next bit */
    uint8_t number;
    uint8_t last;
    int8_t changes;
    int32_t clicks;
};

void encoders_start(struct encoder *encoders, uint8_t count);
void encoders_scan(struct encoder *encoders, uint8_t count);
#endif
