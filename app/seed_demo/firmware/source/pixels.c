#include "pixels.h"

#include <avr/io.h>
#include <util/atomic.h>

#define LINE 6

void pixels_start(void)
{
    DDRD |= _BV(LINE);
}

/* At 16 MHz a bit takes about 20 cycles, 6 (zero) or 13 (one) of them high. The pin is set and cleared by sbi
 * and cbi, two cycles each, so that the other pins of the port are left alone. */
static void send_byte(uint8_t byte)
{
    uint8_t bits = 8;
    __asm__ volatile(
        "1: sbi %[port], %[line]\n"
        "   nop\n"
        "   nop\n"
        "   nop\n"
        "   sbrs %[byte], 7\n"
        "   cbi %[port], %[line]\n"
        "   lsl %[byte]\n"
        "   nop\n"
        "   nop\n"
        "   nop\n"
        "   nop\n"
        "   nop\n"
        "   cbi %[port], %[line]\n"
        "   dec %[bits]\n"
        "   brne 1b\n"
        : [byte] "+r"(byte), [bits] "+r"(bits)
        : [port] "I"(_SFR_IO_ADDR(PORTD)), [line] "I"(LINE));
}

void pixels_send(const uint8_t *colours, uint16_t bytes)
{
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        while (bytes--)
            send_byte(*colours++);
    }
}
