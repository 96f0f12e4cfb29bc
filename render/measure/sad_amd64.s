#include "textflag.h"

// func bandSAD(a, b *byte, stride, columns int, cells, sums *uint32, rows *[8]uint64)
//
// SSE2 only, which every amd64 has. Per 16 columns and 8 rows: X8 gathers the
// two cells' differences, X9 their sums, X0-X7 each row's differences.
TEXT ·bandSAD(SB), NOSPLIT, $0-56
	MOVQ a+0(FP), SI
	MOVQ b+8(FP), DI
	MOVQ stride+16(FP), DX
	MOVQ columns+24(FP), CX
	MOVQ cells+32(FP), R8
	MOVQ sums+40(FP), R9
	PXOR X0, X0
	PXOR X1, X1
	PXOR X2, X2
	PXOR X3, X3
	PXOR X4, X4
	PXOR X5, X5
	PXOR X6, X6
	PXOR X7, X7
	PXOR X13, X13
	TESTQ CX, CX
	JEQ  done

#define ROW(acc) \
	MOVOU  (R10), X10   \
	MOVOU  (R11), X11   \
	MOVO   X10, X12     \
	PSADBW X11, X10     \
	PSADBW X13, X12     \
	PADDQ  X10, acc     \
	PADDQ  X10, X8      \
	PADDQ  X12, X9      \
	ADDQ   DX, R10      \
	ADDQ   DX, R11

loop:
	MOVQ SI, R10
	MOVQ DI, R11
	PXOR X8, X8
	PXOR X9, X9
	ROW(X0)
	ROW(X1)
	ROW(X2)
	ROW(X3)
	ROW(X4)
	ROW(X5)
	ROW(X6)
	ROW(X7)
	PSHUFD $8, X8, X8
	PSHUFD $8, X9, X9
	MOVQ X8, (R8)
	MOVQ X9, (R9)
	ADDQ $8, R8
	ADDQ $8, R9
	ADDQ $16, SI
	ADDQ $16, DI
	DECQ CX
	JNE  loop

done:
	MOVQ rows+48(FP), R8

#define OUT(acc, off) \
	MOVOU  acc, X10        \
	PSRLDQ $8, X10         \
	PADDQ  X10, acc        \
	MOVQ   acc, off(R8)

	OUT(X0, 0)
	OUT(X1, 8)
	OUT(X2, 16)
	OUT(X3, 24)
	OUT(X4, 32)
	OUT(X5, 40)
	OUT(X6, 48)
	OUT(X7, 56)
	RET

// func rowSAD(a, b *byte, columns int) uint64
TEXT ·rowSAD(SB), NOSPLIT, $0-32
	MOVQ a+0(FP), SI
	MOVQ b+8(FP), DI
	MOVQ columns+16(FP), CX
	PXOR X0, X0
	TESTQ CX, CX
	JEQ  sum

piece:
	MOVOU  (SI), X1
	MOVOU  (DI), X2
	PSADBW X2, X1
	PADDQ  X1, X0
	ADDQ   $16, SI
	ADDQ   $16, DI
	DECQ   CX
	JNE    piece

sum:
	MOVOU  X0, X1
	PSRLDQ $8, X1
	PADDQ  X1, X0
	MOVQ   X0, ret+24(FP)
	RET
