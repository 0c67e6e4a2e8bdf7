#include "analogue.h"

#include <avr/io.h>
#include <stdlib.h>

#include "link.h"

void analogue_start(void)
{
    ADCSRA = _BV(ADEN) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0);
}

static int16_t reading(uint8_t input)
{
    ADMUX = _BV(REFS0) | (input & 7);
#ifdef MUX5
    ADCSRB = input > 7 ? _BV(MUX5) : 0;
#endif
    ADCSRA |= _BV(ADSC);
    loop_until_bit_is_clear(ADCSRA, ADSC);
    return ADC;
}

void levers_scan(struct lever *levers, uint8_t count)
{
    for (; count; count--, levers++) {
        int16_t now = reading(levers->input);
        if (levers->positions) {
            int16_t step = 1023 / (levers->positions - 1);
            now = (now + step / 2) / step;
            if (now == levers->told)
                continue;
            link_send(levers->number, now * 1000L);
        } else {
            if (abs(now - levers->told) < DEAD_ZONE)
                continue;
            link_send(levers->number, now * 1000L / 1023 * 100);
        }
        levers->told = now;
    }
}
