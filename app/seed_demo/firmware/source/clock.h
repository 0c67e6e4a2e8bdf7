/* Millisecond clock and watchdog: a board that hangs restarts after half a second. */
#ifndef CLOCK_H
#define CLOCK_H
#include <stdint.h>

void clock_start(void);
uint32_t clock_ms(void);
/* True once for each millisecond that has passed; also feeds the watchdog. */
uint8_t clock_tick(void);
#endif
