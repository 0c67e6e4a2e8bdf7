#include "matrix.h"

#include <avr/io.h>

/* DDRx and PORTx lie one and two addresses after PINx on these chips. */
static void drive(struct matrix *matrix)
{
    uint8_t row = _BV(matrix->first_row + matrix->row);
    uint8_t rows = ((1 << matrix->rows) - 1) << matrix->first_row;
    matrix->pins[1] = (matrix->pins[1] & ~rows) | row;
    matrix->pins[2] &= ~rows;
}

void matrix_start(struct matrix *matrix)
{
    matrix->pins[2] |= ((1 << matrix->columns) - 1) << matrix->first_column;
    drive(matrix);
}

void matrix_scan(struct matrix *matrix)
{
    uint8_t read = ~*matrix->pins >> matrix->first_column;
    struct contact *contact = &matrix->contacts[matrix->row * matrix->columns];
    for (uint8_t column = 0; column < matrix->columns; column++, contact++, read >>= 1)
        if (contact->number)
            contact_settle(contact, read & 1);
    matrix->row = (matrix->row + 1) % matrix->rows;
    drive(matrix);
}
