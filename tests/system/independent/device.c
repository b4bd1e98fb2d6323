/* A Modbus device on libmodbus, independent of everything that is tested with it.
 *
 *     device tcp 0            listens on a free port of 127.0.0.1 and prints it
 *     device rtu /dev/pts/3   serves a serial line at 19200 Bd 8E1 and prints "ready"
 *
 * Before that it reads from stdin the count of its registers, their values in hexadecimal, and a float. They are at
 * address 0 of the input and of the holding registers; bit n of the coils and of the discrete inputs is bit 0 of
 * register n. Behind them the library itself lays the float in each of its four orders. Unit id 17. It ends with
 * its stdin.
 */
#include <arpa/inet.h>
#include <errno.h>
#include <modbus/modbus.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define UNIT_ID 17

static int stdin_has_ended(void)
{
    struct pollfd input = {.fd = STDIN_FILENO, .events = POLLIN};
    return poll(&input, 1, 0) > 0 && (input.revents & (POLLIN | POLLHUP));
}

static modbus_mapping_t *mapping_from_stdin(void)
{
    int count;
    if (scanf("%d", &count) != 1)
        return NULL;
    modbus_mapping_t *map = modbus_mapping_new(count, count, count + 8, count + 8);
    for (int i = 0; map != NULL && i < count; i++) {
        unsigned value;
        if (scanf("%x", &value) != 1)
            return NULL;
        map->tab_registers[i] = map->tab_input_registers[i] = (uint16_t) value;
        map->tab_bits[i] = map->tab_input_bits[i] = value & 1;
    }
    float number;
    if (map == NULL || scanf("%f", &number) != 1)
        return NULL;
    uint16_t *tables[] = {map->tab_registers, map->tab_input_registers};
    for (int i = 0; i < 2; i++) {
        modbus_set_float_abcd(number, tables[i] + count);
        modbus_set_float_badc(number, tables[i] + count + 2);
        modbus_set_float_cdab(number, tables[i] + count + 4);
        modbus_set_float_dcba(number, tables[i] + count + 6);
    }
    return map;
}

static void serve(modbus_t *device, modbus_mapping_t *map)
{
    uint8_t query[MODBUS_MAX_ADU_LENGTH];
    while (!stdin_has_ended()) {
        int length = modbus_receive(device, query);
        if (length > 0)
            modbus_reply(device, query, length, map);
        else if (length == -1 && (errno == ECONNRESET || errno == EPIPE))
            return;
    }
}

int main(int argc, char **argv)
{
    modbus_mapping_t *map = mapping_from_stdin();
    if (argc != 3 || map == NULL)
        return 2;
    if (strcmp(argv[1], "rtu") == 0) {
        modbus_t *device = modbus_new_rtu(argv[2], 19200, 'E', 8, 1);
        modbus_set_slave(device, UNIT_ID);
        modbus_set_indication_timeout(device, 0, 200000);
        if (modbus_connect(device) == -1) {
            fprintf(stderr, "%s\n", modbus_strerror(errno));
            return 5;
        }
        puts("ready");
        fflush(stdout);
        serve(device, map);
        return 0;
    }
    modbus_t *device = modbus_new_tcp("127.0.0.1", atoi(argv[2]));
    modbus_set_slave(device, UNIT_ID);
    modbus_set_indication_timeout(device, 0, 200000);
    int listener = modbus_tcp_listen(device, 1);
    struct sockaddr_in bound;
    socklen_t size = sizeof bound;
    if (listener == -1 || getsockname(listener, (struct sockaddr *) &bound, &size) == -1)
        return 5;
    printf("%d\n", ntohs(bound.sin_port));
    fflush(stdout);
    while (!stdin_has_ended()) {
        struct pollfd waiting = {.fd = listener, .events = POLLIN};
        if (poll(&waiting, 1, 100) > 0 && modbus_tcp_accept(device, &listener) != -1) {
            serve(device, map);
            modbus_close(device);
        }
    }
    return 0;
}
