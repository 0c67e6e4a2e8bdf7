#include "servo.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

#define FRAME 40000U

static struct {
    volatile uint8_t *port;
    uint8_t mask;
    volatile uint16_t half_us;
} servos[SERVOS_MAX];
static uint8_t count, running;
static uint16_t used;

ISR(TIMER1_COMPA_vect)
{
    if (running < count)
        *servos[running].port &= ~servos[running].mask;
    running = running < count ? running + 1 : 0;
    if (running == 0)
        used = 0;
    if (running < count) {
        uint16_t pulse = servos[running].half_us;
        if (pulse)
            *servos[running].port |= servos[running].mask;
        else
            pulse = SERVO_LOW;
        used += pulse;
        OCR1A = pulse;
    } else {
        OCR1A = FRAME - used;
    }
}

uint8_t servo_add(volatile uint8_t *port, uint8_t bit)
{
    port[-1] |= _BV(bit);
    servos[count].port = port;
    servos[count].mask = _BV(bit);
    return count++;
}

void servo_set(uint8_t servo, uint16_t half_us)
{
    if (half_us && half_us < SERVO_LOW)
        half_us = SERVO_LOW;
    if (half_us > SERVO_HIGH)
        half_us = SERVO_HIGH;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { servos[servo].half_us = half_us; }
}

void servos_start(void)
{
    running = count;
    OCR1A = FRAME;
    TCCR1B = _BV(WGM12) | _BV(CS11);
    TIMSK1 = _BV(OCIE1A);
}

void servos_rest(void)
{
    for (uint8_t servo = 0; servo < count; servo++)
        servo_set(servo, 0);
}
