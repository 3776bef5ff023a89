/* SPDX-License-Identifier: MIT
 * A foot pedal that acts as a keyboard, made with uinput: "pedal NAME" takes d (down), u (up) and r (auto-repeat) from
 * standard input; at its end the pedal is unplugged.
 */
#include <fcntl.h>
#include <linux/uinput.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

static int send(int fd, int type, int code, int value)
{
	struct input_event event;

	memset(&event, 0, sizeof(event));
	event.type = type;
	event.code = code;
	event.value = value;
	return write(fd, &event, sizeof(event)) == sizeof(event) ? 0 : 1;
}

int main(int count, char **arguments)
{
	struct uinput_setup setup;
	int fd = open("/dev/uinput", O_WRONLY), c;

	if (count != 2 || fd < 0) {
		perror("pedal");
		return 1;
	}
	memset(&setup, 0, sizeof(setup));
	setup.id.bustype = BUS_USB;
	setup.id.vendor = 0x1209;
	setup.id.product = 0x0001;
	snprintf(setup.name, sizeof(setup.name), "%s", arguments[1]);
	if (ioctl(fd, UI_SET_EVBIT, EV_KEY) || ioctl(fd, UI_SET_KEYBIT, KEY_PAGEDOWN) ||
	    ioctl(fd, UI_DEV_SETUP, &setup) || ioctl(fd, UI_DEV_CREATE)) {
		perror("pedal");
		return 1;
	}
	while ((c = getchar()) != EOF) {
		int value = c == 'd' ? 1 : c == 'u' ? 0 : c == 'r' ? 2 : -1;

		if (value >= 0 && (send(fd, EV_KEY, KEY_PAGEDOWN, value) || send(fd, EV_SYN, SYN_REPORT, 0)))
			return 1;
	}
	return ioctl(fd, UI_DEV_DESTROY) ? 1 : 0;
}
