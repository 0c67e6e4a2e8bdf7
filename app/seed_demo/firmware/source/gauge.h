/* Gauge steppers on four pins of one port, a third of a degree a step, with or without an index sensor. */
#ifndef GAUGE_H
#define GAUGE_H
#include <stdint.h>

struct gauge {
    volatile uint8_t *port; /* PORTx; DDRx and PINx lie one and two addresses before it */
    uint8_t first_bit;      /* of the four coil ends: 0 or 4 */
    volatile uint8_t *index_pins; /* PINx of the index sensor; 0 for a stop at zero */
    uint8_t index_bit;
    int16_t turn; /* steps of a whole turn of an endless dial; 0 for one with ends */
    int16_t position, target;
    uint8_t wait_ms, homing;
};

#define HOMING_STEPS 1080

void gauges_start(struct gauge *gauges, uint8_t count);
/* Once a millisecond: at most one step of each, 400 steps a second. */
void gauges_step(struct gauge *gauges, uint8_t count);
uint8_t gauges_homing(const struct gauge *gauges, uint8_t count);
#endif
