// SPDX-License-Identifier: MIT OR GPL-2.0
/*
 * An I2C bus without wires: a real adapter whose devices acknowledge, and whose writes are read back from
 * /dev/i2c-capture as records {u16 address, u16 flags, u16 length, u16 0, bytes}.
 *
 * Parameters: fail (an errno: nobody acknowledges while it is not 0), khz (transfers take as long as on a real bus).
 */
#include <linux/delay.h>
#include <linux/i2c.h>
#include <linux/kfifo.h>
#include <linux/miscdevice.h>
#include <linux/module.h>
#include <linux/mutex.h>
#include <linux/platform_device.h>
#include <linux/slab.h>

#define LONGEST 8192

static unsigned short address = 0x3c;
module_param(address, ushort, 0444);
static int fail;
module_param(fail, int, 0644);
static unsigned int khz;
module_param(khz, uint, 0644);
static unsigned int dropped;
module_param(dropped, uint, 0444);

struct head {
	u16 address, flags, length, zero;
};

static STRUCT_KFIFO_REC_2(1 << 20) *records;
static DEFINE_MUTEX(lock);
static u8 record[sizeof(struct head) + LONGEST];

static int keep(const struct i2c_msg *msg)
{
	struct head head = { msg->addr, msg->flags, msg->len, 0 };

	if (msg->flags & I2C_M_RD) {
		memset(msg->buf, 0, msg->len);
		return 0;
	}
	if (msg->len > LONGEST)
		return -EINVAL;
	memcpy(record, &head, sizeof(head));
	memcpy(record + sizeof(head), msg->buf, msg->len);
	if (!kfifo_in(records, record, sizeof(head) + msg->len))
		dropped++;
	return 0;
}

static int transfer(struct i2c_adapter *adapter, struct i2c_msg *msgs, int count)
{
	unsigned long bits = 0;
	int i, ret = 0;

	mutex_lock(&lock);
	for (i = 0; i < count && !ret; i++) {
		if (fail)
			ret = -fail;
		else if (msgs[i].addr != address)
			ret = -ENXIO;
		else
			ret = keep(&msgs[i]);
		/* Nine bits a byte, the address too, start and stop. */
		bits += 9 * (msgs[i].len + 1) + 2;
	}
	mutex_unlock(&lock);
	if (khz && !ret)
		usleep_range(bits * 1000 / khz, bits * 1000 / khz + 50);
	return ret ? ret : count;
}

static u32 functions(struct i2c_adapter *adapter)
{
	return I2C_FUNC_I2C | I2C_FUNC_SMBUS_EMUL;
}

static const struct i2c_algorithm algorithm = {
	.master_xfer = transfer,
	.functionality = functions,
};

static struct i2c_adapter adapter = {
	.owner = THIS_MODULE,
	.algo = &algorithm,
	.name = "i2c-capture",
};

/* Never waits: 0 when there is nothing, so that "cat" ends. */
static ssize_t read_record(struct file *file, char __user *to, size_t size, loff_t *at)
{
	unsigned int copied = 0;
	int ret = 0;

	mutex_lock(&lock);
	if (!kfifo_is_empty(records))
		ret = kfifo_to_user(records, to, size, &copied);
	mutex_unlock(&lock);
	return ret ? ret : copied;
}

static const struct file_operations operations = {
	.owner = THIS_MODULE,
	.read = read_record,
	.llseek = noop_llseek,
};

static struct miscdevice device = {
	.minor = MISC_DYNAMIC_MINOR,
	.name = "i2c-capture",
	.fops = &operations,
};
static struct platform_device *parent;

static int __init start(void)
{
	int ret;

	records = kvzalloc(sizeof(*records), GFP_KERNEL);
	if (!records)
		return -ENOMEM;
	INIT_KFIFO(*records);
	parent = platform_device_register_simple("i2c-capture", -1, NULL, 0);
	if (IS_ERR(parent)) {
		ret = PTR_ERR(parent);
		goto no_parent;
	}
	adapter.dev.parent = &parent->dev;
	ret = i2c_add_adapter(&adapter);
	if (ret)
		goto no_adapter;
	ret = misc_register(&device);
	if (ret)
		goto no_device;
	return 0;

no_device:
	i2c_del_adapter(&adapter);
no_adapter:
	platform_device_unregister(parent);
no_parent:
	kvfree(records);
	return ret;
}

static void __exit stop(void)
{
	misc_deregister(&device);
	i2c_del_adapter(&adapter);
	platform_device_unregister(parent);
	kvfree(records);
}

module_init(start);
module_exit(stop);
MODULE_LICENSE("Dual MIT/GPL");
MODULE_DESCRIPTION("I2C bus that records what is written");
