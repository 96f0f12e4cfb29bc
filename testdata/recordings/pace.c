/* Preloaded into a GL program: draws the number of each frame into its picture as a
 * bar code, paces the swaps and logs them. The bar code is 16 squares of 16x16 pixels in
 * the top left corner, white for 1, the highest bit first.
 *
 * PACE    frame times in microseconds, taken in turn: 33333 or 33333,50000
 * JITTER  microseconds by which each may be longer or shorter
 * SWAPS   the log's name: frame number and time of its swap in microseconds
 */
#define _GNU_SOURCE
#include <GL/gl.h>
#include <GL/glx.h>
#include <EGL/egl.h>
#include <dlfcn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static const int bits = 16, side = 16;

static void draw_number(unsigned n)
{
	GLfloat colour[4];
	GLint box[4], view[4];
	GLboolean scissor = glIsEnabled(GL_SCISSOR_TEST);

	glGetIntegerv(GL_VIEWPORT, view); /* the window, as far as programs use all of it */
	glGetFloatv(GL_COLOR_CLEAR_VALUE, colour);
	glGetIntegerv(GL_SCISSOR_BOX, box);
	glEnable(GL_SCISSOR_TEST);
	for (int i = 0; i < bits; i++) {
		float v = n >> (bits - 1 - i) & 1;
		glScissor(i * side, view[3] - side, side, side);
		glClearColor(v, v, v, 1);
		glClear(GL_COLOR_BUFFER_BIT);
	}
	glScissor(box[0], box[1], box[2], box[3]);
	glClearColor(colour[0], colour[1], colour[2], colour[3]);
	if (!scissor)
		glDisable(GL_SCISSOR_TEST);
}

static long long next_time(unsigned n)
{
	static long long times[16];
	static int count, jitter;

	if (!count) {
		const char *s = getenv("PACE"), *j = getenv("JITTER");
		for (char *end; s && *s && count < 16; s = *end ? end + 1 : end)
			times[count++] = strtoll(s, &end, 10);
		if (!count)
			times[count++] = 33333;
		jitter = j ? atoi(j) : 0;
		srand(7); /* the same paces in each run */
	}
	return times[n % count] + (jitter ? rand() % (2 * jitter) - jitter : 0);
}

/* ready draws the number of the frame and waits for its time. */
static void ready(void)
{
	static unsigned n;
	static long long due; /* microseconds */
	static FILE *log;
	struct timespec t;

	if (!n && getenv("SWAPS"))
		log = fopen(getenv("SWAPS"), "w");
	draw_number(n);
	glFinish();
	clock_gettime(CLOCK_MONOTONIC, &t);
	long long now = t.tv_sec * 1000000LL + t.tv_nsec / 1000;
	due += next_time(n);
	if (due < now)
		due = now; /* too late: go on from here */
	t.tv_sec = due / 1000000;
	t.tv_nsec = due % 1000000 * 1000;
	clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &t, NULL);
	if (log) {
		fprintf(log, "%u,%lld\n", n, due);
		fflush(log);
	}
	n++;
}

void glXSwapBuffers(Display *d, GLXDrawable w)
{
	void (*swap)(Display *, GLXDrawable) = dlsym(RTLD_NEXT, "glXSwapBuffers");

	ready();
	swap(d, w);
}

EGLBoolean eglSwapBuffers(EGLDisplay d, EGLSurface s)
{
	EGLBoolean (*swap)(EGLDisplay, EGLSurface) = dlsym(RTLD_NEXT, "eglSwapBuffers");

	ready();
	return swap(d, s);
}
