typedef unsigned int word;
extern void reset(void);
__attribute__((section(".boot"), used)) const unsigned char boot[256] = {1, 2, 3};
__attribute__((section(".vectors"), used)) void (*const vectors[48])(void) = {reset, reset};
__attribute__((section(".vectors_in_memory"), used)) word vectors_in_memory[48];
const unsigned char scale[33] = {9, 8, 7};
volatile word counted = 5;
volatile unsigned char table[21] = {1, 2, 3};
volatile unsigned char buffer[1024];
__attribute__((section(".fast_text"), noinline)) void step(void) { counted++; }
void reset(void) { for (word i = 0;; i++) { buffer[i & 1023] = scale[i & 31] + table[i & 15]; step(); } }
