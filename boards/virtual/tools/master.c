/* SPDX-License-Identifier: MIT
 * MIDI clock on a raw MIDI device, to the MIDI 1.0 specification and nothing else:
 *
 *   master send DEVICE QPM SECONDS [start]   24 ticks a quarter note; with "start" a Start before the first
 *   master listen DEVICE SECONDS QPM         what comes: Starts, Continues, Stops, ticks, how many of those that belong
 *                                            to QPM are missing, quarter notes a minute (after a bar), and the longest
 *                                            and shortest time between two ticks in microseconds
 */
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

/* From this tick on the tempo is measured: a bar of four quarters, in which who follows may come nearer. */
#define SETTLED 97
/* A bar of ticks: one of them at the least is not late, however busy the machine is. */
#define BAR 96
#define MOST 8192

static double now(void)
{
	struct timespec time;

	clock_gettime(CLOCK_MONOTONIC, &time);
	return time.tv_sec + time.tv_nsec / 1e9;
}

static int send_clock(const char *device, double qpm, double seconds, int starts)
{
	int fd = open(device, O_WRONLY);
	double begun = now() + 0.1, at = begun;
	long tick;

	if (fd < 0 || (starts && write(fd, "\xfa", 1) != 1)) {
		perror(device);
		return 1;
	}
	for (tick = 0; at < begun + seconds; tick++) {
		struct timespec until = { .tv_sec = (time_t)at, .tv_nsec = (long)((at - (time_t)at) * 1e9) };

		clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL);
		if (write(fd, "\xf8", 1) != 1) {
			perror(device);
			return 1;
		}
		at = begun + (tick + 1) * 60 / (24 * qpm);
	}
	return 0;
}

/* How many ticks too few there are: by how many the earliest ticks of the last bar come too soon in their row. */
static long missing(const double *at, long ticks, double tick)
{
	double first = 1e9, last = 1e9;
	long n;

	for (n = SETTLED; n < ticks; n++) {
		double row = at[n] - n * tick;

		if (n < SETTLED + BAR)
			first = row < first ? row : first;
		if (n >= ticks - BAR)
			last = row < last ? row : last;
	}
	return (long)((last - first) / tick + 1000.5) - 1000;
}

static int listen_to(const char *device, double seconds, double qpm)
{
	static double all[MOST];
	int fd = open(device, O_RDONLY | O_NONBLOCK);
	double until = now() + seconds, first = 0, last = 0, longest = 0, shortest = 1e9;
	int starts = 0, goes = 0, stops = 0;
	long ticks = 0;

	if (fd < 0) {
		perror(device);
		return 1;
	}
	while (now() < until) {
		struct pollfd ready = { .fd = fd, .events = POLLIN };
		unsigned char bytes[64];
		ssize_t count, n;

		if (poll(&ready, 1, 50) < 1)
			continue;
		count = read(fd, bytes, sizeof(bytes));
		for (n = 0; n < count; n++) {
			double at = now();

			starts += bytes[n] == 0xfa;
			goes += bytes[n] == 0xfb;
			stops += bytes[n] == 0xfc;
			if (bytes[n] != 0xf8)
				continue;
			if (ticks < MOST)
				all[ticks] = at;
			if (ticks++) {
				longest = at - last > longest ? at - last : longest;
				shortest = at - last < shortest ? at - last : shortest;
			}
			if (ticks == SETTLED)
				first = at;
			last = at;
		}
	}
	printf("starts %d goes %d stops %d ticks %ld missing %ld qpm %.3f longest %.0f shortest %.0f\n", starts, goes,
	       stops, ticks, missing(all, ticks < MOST ? ticks : MOST, 60 / (24 * qpm)),
	       ticks > SETTLED ? 60 * (ticks - SETTLED) / (24 * (last - first)) : 0, longest * 1e6, shortest * 1e6);
	return 0;
}

int main(int count, char **arguments)
{
	if (count >= 5 && !strcmp(arguments[1], "send"))
		return send_clock(arguments[2], atof(arguments[3]), atof(arguments[4]), count > 5);
	if (count == 5 && !strcmp(arguments[1], "listen"))
		return listen_to(arguments[2], atof(arguments[3]), atof(arguments[4]));
	fprintf(stderr, "master send DEVICE QPM SECONDS [start] | master listen DEVICE SECONDS QPM\n");
	return 64;
}
