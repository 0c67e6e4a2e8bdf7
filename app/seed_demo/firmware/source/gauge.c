#include "gauge.h"

#include <avr/io.h>

#define STEP_MS 3

static const uint8_t phases[6] = {0x9, 0x1, 0x7, 0x6, 0xE, 0x8};

static void energise(struct gauge *gauge)
{
    int8_t phase = gauge->position % 6;
    uint8_t coils = phases[phase < 0 ? phase + 6 : phase] << gauge->first_bit;
    *gauge->port = (*gauge->port & ~(0xF << gauge->first_bit)) | coils;
}

void gauges_start(struct gauge *gauges, uint8_t count)
{
    for (; count; count--, gauges++) {
        gauges->port[-1] |= 0xF << gauges->first_bit;
        if (gauges->index_pins)
            gauges->index_pins[2] |= _BV(gauges->index_bit);
        gauges->homing = 1;
        gauges->position = gauges->turn ? 0 : HOMING_STEPS;
    }
}

uint8_t gauges_homing(const struct gauge *gauges, uint8_t count)
{
    for (; count; count--, gauges++)
        if (gauges->homing)
            return 1;
    return 0;
}

static void home(struct gauge *gauge)
{
    if (gauge->index_pins && !(*gauge->index_pins & _BV(gauge->index_bit))) {
        gauge->position = 0;
        gauge->homing = 0;
        return;
    }
    gauge->position--;
    if (gauge->position <= (gauge->turn ? -2 * gauge->turn : 0))
        gauge->homing = 0; /* at the stop, or no index found in two turns */
}

void gauges_step(struct gauge *gauges, uint8_t count)
{
    for (; count; count--, gauges++) {
        if (gauges->wait_ms) {
            gauges->wait_ms--;
            continue;
        }
        gauges->wait_ms = STEP_MS - 1;
        if (gauges->homing) {
            home(gauges);
        } else {
            int16_t way = gauges->target - gauges->position;
            if (!way)
                continue;
            if (gauges->turn && (way > gauges->turn / 2 || way < -gauges->turn / 2))
                way = -way; /* the shorter way round */
            gauges->position += way > 0 ? 1 : -1;
            if (gauges->turn) {
                if (gauges->position >= gauges->turn)
                    gauges->position -= gauges->turn;
                else if (gauges->position < 0)
                    gauges->position += gauges->turn;
            }
        }
        energise(gauges);
    }
}
