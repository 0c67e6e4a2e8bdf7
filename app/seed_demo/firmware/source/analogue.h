/* Levers and selector ladders read as a voltage, with a dead zone. */
#ifndef ANALOGUE_H
#define ANALOGUE_H
#include <stdint.h>

#define DEAD_ZONE 4

struct lever {
    uint8_t input;
    uint8_t number;
    uint8_t positions; /* 0 for a lever; else a selector on a ladder of equal steps */
    int16_t told;
};

void analogue_start(void);
void levers_scan(struct lever *levers, uint8_t count);
#endif
