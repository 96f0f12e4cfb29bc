#include "textflag.h"

// func bandSSE2(a, b *byte, stride, columns int, cells, sums *uint32, rows *[8]uint64)
//
// Which every amd64 has. Per 16 columns and 8 rows: X8 gathers the two cells'
// differences, X9 their sums, X0-X7 each row's differences.
TEXT ·bandSSE2(SB), NOSPLIT, $0-56
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

// func bandAVX2(a, b *byte, stride, columns int, cells, sums *uint32, rows *[8]uint64)
//
// As above, with 32 columns and four cells at a time.
TEXT ·bandAVX2(SB), NOSPLIT, $0-56
	MOVQ  a+0(FP), SI
	MOVQ  b+8(FP), DI
	MOVQ  stride+16(FP), DX
	MOVQ  columns+24(FP), CX
	MOVQ  cells+32(FP), R8
	MOVQ  sums+40(FP), R9
	VPXOR Y0, Y0, Y0
	VPXOR Y1, Y1, Y1
	VPXOR Y2, Y2, Y2
	VPXOR Y3, Y3, Y3
	VPXOR Y4, Y4, Y4
	VPXOR Y5, Y5, Y5
	VPXOR Y6, Y6, Y6
	VPXOR Y7, Y7, Y7
	VPXOR Y13, Y13, Y13
	SHRQ  $1, CX
	JEQ   done

#define ROW2(acc) \
	VMOVDQU (R10), Y10        \
	VPSADBW (R11), Y10, Y11   \
	VPSADBW Y13, Y10, Y12     \
	VPADDQ  Y11, acc, acc     \
	VPADDQ  Y11, Y8, Y8       \
	VPADDQ  Y12, Y9, Y9       \
	ADDQ    DX, R10           \
	ADDQ    DX, R11

loop:
	MOVQ  SI, R10
	MOVQ  DI, R11
	VPXOR Y8, Y8, Y8
	VPXOR Y9, Y9, Y9
	ROW2(Y0)
	ROW2(Y1)
	ROW2(Y2)
	ROW2(Y3)
	ROW2(Y4)
	ROW2(Y5)
	ROW2(Y6)
	ROW2(Y7)
	VEXTRACTI128 $1, Y8, X10
	VEXTRACTI128 $1, Y9, X11
	VSHUFPS $0x88, X10, X8, X8
	VSHUFPS $0x88, X11, X9, X9
	VMOVDQU X8, (R8)
	VMOVDQU X9, (R9)
	ADDQ $16, R8
	ADDQ $16, R9
	ADDQ $32, SI
	ADDQ $32, DI
	DECQ CX
	JNE  loop

done:
	MOVQ rows+48(FP), R8

#define OUT2(acc, low, off) \
	VEXTRACTI128 $1, acc, X10   \
	VPADDQ       X10, low, low  \
	VPSRLDQ      $8, low, X10   \
	VPADDQ       X10, low, low  \
	VMOVQ        low, off(R8)

	OUT2(Y0, X0, 0)
	OUT2(Y1, X1, 8)
	OUT2(Y2, X2, 16)
	OUT2(Y3, X3, 24)
	OUT2(Y4, X4, 32)
	OUT2(Y5, X5, 40)
	OUT2(Y6, X6, 48)
	OUT2(Y7, X7, 56)
	VZEROUPPER
	RET

// func Row(a, b, to *byte, columns int) (fromA, fromB uint64)
TEXT ·Row(SB), NOSPLIT, $0-48
	MOVQ a+0(FP), SI
	MOVQ b+8(FP), DI
	MOVQ to+16(FP), DX
	MOVQ columns+24(FP), CX
	PXOR X0, X0
	PXOR X1, X1
	TESTQ CX, CX
	JEQ  sum

piece:
	MOVOU  (DX), X2
	MOVOU  (SI), X3
	MOVOU  (DI), X4
	PSADBW X2, X3
	PSADBW X2, X4
	PADDQ  X3, X0
	PADDQ  X4, X1
	ADDQ   $16, SI
	ADDQ   $16, DI
	ADDQ   $16, DX
	DECQ   CX
	JNE    piece

sum:
	MOVOU  X0, X2
	PSRLDQ $8, X2
	PADDQ  X2, X0
	MOVQ   X0, fromA+32(FP)
	MOVOU  X1, X2
	PSRLDQ $8, X2
	PADDQ  X2, X1
	MOVQ   X1, fromB+40(FP)
	RET
