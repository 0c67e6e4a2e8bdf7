#include "link.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#include "clock.h"

#ifdef USART0_RX_vect
#define RECEIVED USART0_RX_vect
#define READY USART0_UDRE_vect
#else
#define RECEIVED USART_RX_vect
#define READY USART_UDRE_vect
#endif
#define ROOM 64
#define FIRST 0xA5
#define LAST 0x5A

static volatile uint8_t in[ROOM], out[ROOM];
static volatile uint8_t in_head, in_tail, out_head, out_tail;
static uint8_t message[8], held;
static uint32_t last_message_ms;

ISR(RECEIVED)
{
    uint8_t byte = UDR0, next = (in_head + 1) % ROOM;
    if (next != in_tail) {
        in[in_head] = byte;
        in_head = next;
    }
}

ISR(READY)
{
    if (out_tail == out_head) {
        UCSR0B &= ~_BV(UDRIE0);
    } else {
        UDR0 = out[out_tail];
        out_tail = (out_tail + 1) % ROOM;
    }
}

void link_start(uint32_t baud)
{
    UBRR0 = (F_CPU / 4 / baud - 1) / 2;
    UCSR0A = _BV(U2X0);
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
}

static uint8_t sum(const uint8_t *bytes)
{
    uint8_t total = 0;
    for (uint8_t i = 0; i < 6; i++)
        total += bytes[i];
    return total;
}

uint8_t link_take(uint8_t *number, int32_t *value)
{
    while (in_tail != in_head) {
        message[held++] = in[in_tail];
        in_tail = (in_tail + 1) % ROOM;
        if (message[0] != FIRST) {
            held = 0;
        } else if (held == sizeof message) {
            held = 0;
            if (message[7] != LAST || message[6] != sum(message))
                continue;
            *number = message[1];
            *value = (int32_t)message[2] | (int32_t)message[3] << 8 | (int32_t)message[4] << 16 |
                     (int32_t)message[5] << 24;
            last_message_ms = clock_ms();
            return 1;
        }
    }
    return 0;
}

static void put(uint8_t byte)
{
    uint8_t next = (out_head + 1) % ROOM;
    if (next == out_tail)
        return; /* a full line drops the byte: the receiver sees a wrong sum */
    out[out_head] = byte;
    out_head = next;
    UCSR0B |= _BV(UDRIE0);
}

void link_send(uint8_t number, int32_t value)
{
    uint8_t bytes[6] = {FIRST, number, value, value >> 8, value >> 16, value >> 24};
    for (uint8_t i = 0; i < sizeof bytes; i++)
        put(bytes[i]);
    put(sum(bytes));
    put(LAST);
}

uint8_t link_lost(void)
{
    return clock_ms() - last_message_ms > LINK_LOST_MS;
}
