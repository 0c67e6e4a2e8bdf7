/* Contacts in a diode matrix: rows driven low one at a time, columns read with pull-ups. */
#ifndef MATRIX_H
#define MATRIX_H
#include "contact.h"

struct matrix {
    volatile uint8_t *pins; /* PINx of the one port that has rows and columns */
    uint8_t first_row, rows, first_column, columns;
    struct contact *contacts; /* rows x columns of them, row by row; number 0 where there is none */
    uint8_t row;
};

void matrix_start(struct matrix *matrix);
/* Once a millisecond: reads one row and goes on to the next. */
void matrix_scan(struct matrix *matrix);
#endif
