/* Hobby servos on any pins: one timer makes their pulses one after another, every 20 ms. */
#ifndef SERVO_H
#define SERVO_H
#include <stdint.h>

#define SERVOS_MAX 4
#define SERVO_LOW 2000  /* 1.0 ms in half microseconds */
#define SERVO_HIGH 4000 /* 2.0 ms */

/* Adds a servo on a pin, silent until its first pulse is set. */
uint8_t servo_add(volatile uint8_t *port, uint8_t bit);
void servo_set(uint8_t servo, uint16_t half_us);
void servos_start(void);
/* Ends all pulses: a servo without pulses does not hold. */
void servos_rest(void);
#endif
