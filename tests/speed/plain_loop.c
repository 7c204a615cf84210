/* The batch benchmark's lamp in plain C, as one would write it by hand: for each unit and tick the
 * thermistor, the noisy converter, the controller, and one step of the network with the heat of
 * its middle. One unit after the other on each thread; nothing is adapted, no peaks between ticks. */
#include <math.h>
#include <stdint.h>

enum { CURVE = 6, MOST = 64, ROUNDS = 20 };

struct lamp { /* what all units share */
    int32_t nodes, modes, channels, inputs, ambients, pieces, ticks, junction, sensor, levels, bits, pull_up;
    const int32_t *row;         /* ticks: row of the two below */
    const double *ambient_c;    /* rows x ambients */
    const uint16_t *requests;   /* rows x channels */
    const double *radiant, *luminous; /* pieces x 6: start, anchor, four terms */
    double tick_s;
    double ntc_a, ntc_b, ntc_c, resistor_ohm, supply_v, noise_lsb;
    const double *current_a, *volts, *slope, *reference_c, *watts, *lumens; /* channels */
    uint32_t (*step)(const void *, void *, const uint16_t *, const uint16_t *, uint16_t *);
    const void *settings;
    int32_t memory_size;
};

struct unit { /* its own numbers, then what it is found to do */
    const double *decay, *charge, *mean_hold, *mean_charge; /* modes */
    const double *drive;    /* (inputs + ambients) x modes */
    const double *response; /* modes x nodes */
    double *z;              /* modes */
    double *node_c, *peak_c; /* nodes */
    double *light_lm_s, *asked_lm_s; /* channels */
    void *memory;
    int32_t number;
};

static double curve(const double *table, int pieces, double x)
{
    int i = 0;
    while (i + 1 < pieces && x >= table[(i + 1) * CURVE]) {
        i++;
    }
    const double *t = table + i * CURVE;
    double d = x - t[1];
    return ((t[5] * d + t[4]) * d + t[3]) * d + t[2];
}

static uint32_t turned(uint32_t x, int by)
{
    return x << by | x >> (32 - by);
}

static double gaussian(uint32_t unit, uint32_t tick)
{
    static const int by[8] = {13, 15, 26, 6, 17, 29, 16, 24};
    uint32_t key[3] = {0u, unit, 0x1BD11BDAu ^ unit};
    uint32_t x0 = tick + key[0], x1 = 64u + key[1];
    for (int turn = 0; turn < ROUNDS; turn++) {
        x0 += x1;
        x1 = turned(x1, by[turn % 8]) ^ x0;
        if (turn % 4 == 3) {
            uint32_t inject = (uint32_t)(turn / 4 + 1);
            x0 += key[inject % 3];
            x1 += key[(inject + 1) % 3] + inject;
        }
    }
    double radius = sqrt(-2.0 * log((x0 + 0.5) / 4294967296.0));
    return radius * cos(2.0 * M_PI * (x1 + 0.5) / 4294967296.0);
}

static double ohm_at(const struct lamp *lamp, double celsius)
{
    double y = 1.0 / (celsius + 273.15) - lamp->ntc_a;
    if (lamp->ntc_c < 1e-25) {
        return exp(y / lamp->ntc_b);
    }
    double m = sqrt(lamp->ntc_b / (3.0 * lamp->ntc_c));
    return exp(2.0 * m * sinh(asinh(1.5 * y / (lamp->ntc_b * m)) / 3.0));
}

static void put_in(const struct lamp *lamp, const double *node_c, const double *duty,
                   const double *asked, double *heat_w, double *light, double *wish)
{
    for (int c = 0; c < lamp->channels; c++) {
        double at_c = node_c[lamp->junction + c];
        double watts = lamp->current_a[c] *
                       (lamp->volts[c] + lamp->slope[c] * (at_c - lamp->reference_c[c]));
        watts = watts > 0.0 ? watts : 0.0;
        double radiant = lamp->watts[c] * fmax(0.0, curve(lamp->radiant, lamp->pieces, at_c));
        heat_w[c] = duty[c] * fmax(0.0, watts - radiant);
        double lumens = lamp->lumens[c] * fmax(0.0, curve(lamp->luminous, lamp->pieces, at_c));
        light[c] = duty[c] * lumens;
        wish[c] = asked[c] * lumens;
    }
}

static void run(const struct lamp *lamp, struct unit *unit)
{
    int n = lamp->modes, nodes = lamp->nodes, inputs = lamp->inputs, all = inputs + lamp->ambients;
    double duty[MOST] = {0.0}, asked[MOST], cause[MOST], held[MOST], push[MOST], mean[MOST], mean_c[MOST];
    double light[MOST], wish[MOST];
    uint16_t duties[MOST] = {0};
    double full = (double)(1 << lamp->bits);
    for (int k = 0; k < lamp->ticks; k++) {
        const uint16_t *requests = lamp->requests + lamp->row[k] * lamp->channels;
        double thermistor_c = unit->node_c[lamp->sensor], ohm = ohm_at(lamp, thermistor_c);
        double share = ohm / (ohm + lamp->resistor_ohm);
        share = lamp->pull_up ? share : 1.0 - share;
        double seen = share * full + lamp->noise_lsb * gaussian((uint32_t)unit->number, (uint32_t)k + 1u);
        uint16_t code = (uint16_t)fmin(fmax(seen, 0.0), full - 1.0);
        double volts = lamp->supply_v * ohm / (ohm + lamp->resistor_ohm);
        lamp->step(lamp->settings, unit->memory, &code, requests, duties);
        for (int c = 0; c < lamp->channels; c++) {
            duty[c] = (double)(duties[c] * (int64_t)lamp->levels / 32768) / lamp->levels;
            asked[c] = (double)(requests[c] * (int64_t)lamp->levels / 32768) / lamp->levels;
        }
        for (int m = 0; m < lamp->ambients; m++) {
            cause[inputs + m] = lamp->ambient_c[lamp->row[k] * lamp->ambients + m];
        }
        cause[lamp->channels] = volts * volts / ohm;
        put_in(lamp, unit->node_c, duty, asked, cause, light, wish);
        for (int i = 0; i < n; i++) {
            push[i] = 0.0;
        }
        for (int u = 0; u < all; u++) {
            for (int i = 0; i < n; i++) {
                push[i] += cause[u] * unit->drive[u * n + i];
            }
        }
        for (int j = 0; j < nodes; j++) {
            mean_c[j] = 0.0;
        }
        for (int i = 0; i < n; i++) {
            mean[i] = unit->z[i] * unit->mean_hold[i] + push[i] * unit->mean_charge[i];
            for (int c = 0; c < lamp->channels; c++) {
                mean_c[lamp->junction + c] += mean[i] * unit->response[i * nodes + lamp->junction + c];
            }
        }
        put_in(lamp, mean_c, duty, asked, held, light, wish);
        for (int c = 0; c < lamp->channels; c++) {
            for (int i = 0; i < n; i++) {
                push[i] += (held[c] - cause[c]) * unit->drive[c * n + i];
            }
            unit->light_lm_s[c] += lamp->tick_s * light[c];
            unit->asked_lm_s[c] += lamp->tick_s * wish[c];
        }
        for (int j = 0; j < nodes; j++) {
            unit->node_c[j] = 0.0;
        }
        for (int i = 0; i < n; i++) {
            unit->z[i] = unit->z[i] * unit->decay[i] + push[i] * unit->charge[i];
            for (int j = 0; j < nodes; j++) {
                unit->node_c[j] += unit->z[i] * unit->response[i * nodes + j];
            }
        }
        for (int j = 0; j < nodes; j++) {
            unit->peak_c[j] = fmax(unit->peak_c[j], unit->node_c[j]);
        }
    }
}

void run_all(const struct lamp *lamp, struct unit *units, int32_t count)
{
#pragma omp parallel for schedule(static)
    for (int32_t u = 0; u < count; u++) {
        run(lamp, units + u);
    }
}
