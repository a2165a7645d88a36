#include "textflag.h"

// func DotLanes(at []int32, w []float32, x []Lanes) Lanes
// X0 and X1 sum the even and the odd terms, so that one need not wait for the other.
TEXT ·DotLanes(SB), NOSPLIT, $0-88
	MOVQ at_base+0(FP), SI
	MOVQ at_len+8(FP), CX
	MOVQ w_base+24(FP), DI
	MOVQ x_base+48(FP), DX
	XORPS X0, X0
	XORPS X1, X1
	SUBQ $2, CX
	JLT  last

pair:
	MOVLQSX (SI), AX
	MOVLQSX 4(SI), BX
	SHLQ $4, AX
	SHLQ $4, BX
	MOVSS (DI), X2
	MOVSS 4(DI), X3
	SHUFPS $0, X2, X2
	SHUFPS $0, X3, X3
	MOVUPS (DX)(AX*1), X4
	MOVUPS (DX)(BX*1), X5
	MULPS X4, X2
	MULPS X5, X3
	ADDPS X2, X0
	ADDPS X3, X1
	ADDQ $8, SI
	ADDQ $8, DI
	SUBQ $2, CX
	JGE  pair

last:
	CMPQ CX, $-1
	JNE  done
	MOVLQSX (SI), AX
	SHLQ $4, AX
	MOVSS (DI), X2
	SHUFPS $0, X2, X2
	MOVUPS (DX)(AX*1), X4
	MULPS X4, X2
	ADDPS X2, X0

done:
	ADDPS X1, X0
	MOVUPS X0, ret+72(FP)
	RET

// func SpreadLanes(dst []Lanes, at []int32, w []float32, h Lanes)
TEXT ·SpreadLanes(SB), NOSPLIT, $0-88
	MOVQ dst_base+0(FP), DX
	MOVQ at_base+24(FP), SI
	MOVQ at_len+32(FP), CX
	MOVQ w_base+48(FP), DI
	MOVUPS h+72(FP), X0
	TESTQ CX, CX
	JZ   done

one:
	MOVLQSX (SI), AX
	SHLQ $4, AX
	MOVSS (DI), X1
	SHUFPS $0, X1, X1
	MULPS X0, X1
	MOVUPS (DX)(AX*1), X2
	ADDPS X1, X2
	MOVUPS X2, (DX)(AX*1)
	ADDQ $4, SI
	ADDQ $4, DI
	DECQ CX
	JNZ  one

done:
	RET

// func addRows(dst, rows []float32, x Lanes)
TEXT ·addRows(SB), NOSPLIT, $0-64
	MOVQ dst_base+0(FP), DI
	MOVQ dst_len+8(FP), CX
	MOVQ rows_base+24(FP), SI
	MOVQ CX, BX
	SHLQ $2, BX           // bytes of a row
	LEAQ (BX)(BX*2), DX   // and of three
	SHRQ $2, CX
	JZ   done
	MOVSS x_0+48(FP), X0
	MOVSS x_1+52(FP), X1
	MOVSS x_2+56(FP), X2
	MOVSS x_3+60(FP), X3
	SHUFPS $0, X0, X0
	SHUFPS $0, X1, X1
	SHUFPS $0, X2, X2
	SHUFPS $0, X3, X3

four:
	MOVUPS (SI), X4
	MOVUPS (SI)(BX*1), X5
	MOVUPS (SI)(BX*2), X6
	MOVUPS (SI)(DX*1), X7
	MULPS X0, X4
	MULPS X1, X5
	MULPS X2, X6
	MULPS X3, X7
	ADDPS X5, X4
	ADDPS X6, X4
	ADDPS X7, X4
	MOVUPS (DI), X8
	ADDPS X4, X8
	MOVUPS X8, (DI)
	ADDQ $16, SI
	ADDQ $16, DI
	DECQ CX
	JNZ  four

done:
	RET

// func timesLanes(dst, x, w []float32)
TEXT ·timesLanes(SB), NOSPLIT, $0-72
	MOVQ dst_base+0(FP), DI
	MOVQ dst_len+8(FP), CX
	MOVQ x_base+24(FP), SI
	MOVQ w_base+48(FP), DX
	SHRQ $2, CX
	JZ   done

four:
	MOVUPS (SI), X0
	MOVUPS (DX), X1
	MULPS X1, X0
	MOVUPS X0, (DI)
	ADDQ $16, SI
	ADDQ $16, DX
	ADDQ $16, DI
	DECQ CX
	JNZ  four

done:
	RET

// TURN turns re + i·im by cos + i·sin: the real part goes to out, the imaginary one to re; im and t are spent.
#define TURN(re, im, cos, sin, out, t) \
	MOVAPS re, out; \
	MULPS cos, out; \
	MOVAPS im, t; \
	MULPS sin, t; \
	SUBPS t, out; \
	MULPS sin, re; \
	MULPS cos, im; \
	ADDPS im, re

// func quartersLanes(re, im, turns []float32)
// Letters are those of quartersInGo.
TEXT ·quartersLanes(SB), NOSPLIT, $0-72
	MOVQ re_base+0(FP), SI
	MOVQ re_len+8(FP), BX // numbers in all: bytes of a quarter
	MOVQ im_base+24(FP), DI
	MOVQ turns_base+48(FP), R9
	LEAQ (BX)(BX*2), DX   // bytes of three quarters
	MOVQ BX, CX
	SHRQ $4, CX
	JZ   done

four:
	MOVUPS (SI)(BX*1), X0
	MOVUPS (DI)(BX*1), X1
	MOVUPS (R9), X2
	MOVUPS 16(R9), X3
	TURN(X0, X1, X2, X3, X4, X5) // b in X4, bI in X0

	MOVUPS (SI)(BX*2), X1
	MOVUPS (DI)(BX*2), X2
	MOVUPS 32(R9), X3
	MOVUPS 48(R9), X5
	TURN(X1, X2, X3, X5, X6, X7) // c in X6, cI in X1

	MOVUPS (SI)(DX*1), X2
	MOVUPS (DI)(DX*1), X3
	MOVUPS 64(R9), X5
	MOVUPS 80(R9), X7
	TURN(X2, X3, X5, X7, X8, X9) // d in X8, dI in X2

	MOVUPS (SI), X3
	MOVUPS (DI), X5
	MOVAPS X3, X9
	ADDPS X4, X9          // p
	SUBPS X4, X3          // q
	MOVAPS X5, X10
	ADDPS X0, X10         // pI
	SUBPS X0, X5          // qI
	MOVAPS X6, X11
	ADDPS X8, X11         // r
	SUBPS X8, X6          // s
	MOVAPS X1, X12
	ADDPS X2, X12         // rI
	SUBPS X2, X1          // sI

	MOVAPS X9, X13
	ADDPS X11, X13
	MOVUPS X13, (SI)
	SUBPS X11, X9
	MOVUPS X9, (SI)(BX*2)
	MOVAPS X10, X13
	ADDPS X12, X13
	MOVUPS X13, (DI)
	SUBPS X12, X10
	MOVUPS X10, (DI)(BX*2)
	MOVAPS X3, X13
	ADDPS X1, X13
	MOVUPS X13, (SI)(BX*1)
	SUBPS X1, X3
	MOVUPS X3, (SI)(DX*1)
	MOVAPS X5, X13
	SUBPS X6, X13
	MOVUPS X13, (DI)(BX*1)
	ADDPS X6, X5
	MOVUPS X5, (DI)(DX*1)

	ADDQ $16, SI
	ADDQ $16, DI
	ADDQ $96, R9
	DECQ CX
	JNZ  four

done:
	RET
