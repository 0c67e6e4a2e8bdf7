/* Two-wire bus (I2C) at 400 kHz, with a time limit on every wait and a recovery of a stuck line. */
#ifndef BUS_H
#define BUS_H
#include <stdint.h>

void bus_start(void);
/* Begins a write to an address: true when a device answers. */
uint8_t bus_begin(uint8_t address);
uint8_t bus_write(uint8_t byte);
void bus_end(void);
uint16_t bus_faults(void);
#endif
