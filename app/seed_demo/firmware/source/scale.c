#include "scale.h"

int16_t scale_amount(const struct breakpoint *points, uint8_t count, int32_t value)
{
    struct breakpoint low, high;
    memcpy_P(&low, points, sizeof low);
    if (value <= low.value)
        return low.amount;
    for (uint8_t i = 1; i < count; i++) {
        memcpy_P(&high, points + i, sizeof high);
        if (value < high.value) {
            int32_t part = (value - low.value) * 256 / (high.value - low.value);
            return low.amount + (int16_t)(part * (high.amount - low.amount) / 256);
        }
        low = high;
    }
    return low.amount;
}
