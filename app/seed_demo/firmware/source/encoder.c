#include "encoder.h"

#include "link.h"

static uint8_t state(const struct encoder *encoder)
{
    uint8_t two = *encoder->pins >> encoder->bit & 3;
    return two ^ two >> 1; /* from Gray code to a count of 0 to 3 */
}

void encoders_start(struct encoder *encoders, uint8_t count)
{
    for (; count; count--, encoders++) {
        encoders->pins[2] |= 3 << encoders->bit;
        encoders->last = state(encoders);
    }
}

void encoders_scan(struct encoder *encoders, uint8_t count)
{
    for (; count; count--, encoders++) {
        uint8_t now = state(encoders), step = (now - encoders->last) & 3;
        encoders->last = now;
        if (step == 1)
            encoders->changes++;
        else if (step == 3)
            encoders->changes--;
        if (encoders->changes >= 4 || encoders->changes <= -4) {
            encoders->clicks += encoders->changes / 4;
            encoders->changes %= 4;
            link_send(encoders->number, encoders->clicks * 1000);
        }
    }
}
