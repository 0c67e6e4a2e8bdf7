#include "bus.h"

#include <avr/io.h>
#include <util/delay.h>
#include <util/twi.h>

#ifdef __AVR_ATmega2560__
#define LINES PORTD
#define LINES_OUT DDRD
#define SCL 0
#define SDA 1
#else
#define LINES PORTC
#define LINES_OUT DDRC
#define SCL 5
#define SDA 4
#endif
#define WAIT_TURNS 2000

static uint16_t faults;

void bus_start(void)
{
    TWCR = 0;
    LINES &= ~(_BV(SCL) | _BV(SDA));
    for (uint8_t pulse = 0; pulse < 16; pulse++) { /* free a device that holds the data line */
        LINES_OUT |= _BV(SCL);
        _delay_us(5);
        LINES_OUT &= ~_BV(SCL);
        _delay_us(5);
    }
    TWSR = 0;
    TWBR = (F_CPU / 400000UL - 16) / 2;
    TWCR = _BV(TWEN);
}

static uint8_t done(void)
{
    for (uint16_t turn = 0; turn < WAIT_TURNS; turn++)
        if (TWCR & _BV(TWINT))
            return TW_STATUS;
    faults++;
    bus_start();
    return TW_BUS_ERROR;
}

uint8_t bus_begin(uint8_t address)
{
    uint8_t status;
    TWCR = _BV(TWINT) | _BV(TWSTA) | _BV(TWEN);
    status = done();
    if (status != TW_START && status != TW_REP_START)
        return 0;
    TWDR = address << 1 | TW_WRITE;
    TWCR = _BV(TWINT) | _BV(TWEN);
    return done() == TW_MT_SLA_ACK;
}

uint8_t bus_write(uint8_t byte)
{
    TWDR = byte;
    TWCR = _BV(TWINT) | _BV(TWEN);
    return done() == TW_MT_DATA_ACK;
}

void bus_end(void)
{
    TWCR = _BV(TWINT) | _BV(TWEN) | _BV(TWSTO);
}

uint16_t bus_faults(void)
{
    return faults;
}
