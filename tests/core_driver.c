/* Runs the compiled core on inputs read from a file, so that a sanitised build can watch it without Python.
 *
 * The file holds int64 `from`, `until`, `repeats`, then the fields of struct pour_model and of struct pour_draws in the
 * order of pour.h: numbers as they are, columns as their length in bytes and their content. Each column gets a block of
 * exactly that size, so that a step beyond its end is seen. Writes the results' columns to standard output.
 */
#include "pour.h"

#include <stdio.h>
#include <stdlib.h>

static void *blocks[512];
static int blocks_count;

static void *block_of(size_t size) {
    void *block = malloc(size);
    if ((!block && size) || blocks_count == 512)
        exit(3);
    return blocks[blocks_count++] = block;
}

static void get(FILE *file, void *to, size_t size) {
    if (size && fread(to, 1, size, file) != size)
        exit(4);
}

static void *column(FILE *file) {
    int64_t size;
    void *block;
    get(file, &size, sizeof size);
    if (size < 0 || size > (int64_t)1 << 30)
        exit(5);
    block = block_of((size_t)size);
    get(file, block, (size_t)size);
    return block;
}

#define READ_NUMBER(name) get(file, &to->name, sizeof to->name);
#define READ_COLUMN(name) to->name = column(file);
#define ROOM(name) out->name = block_of((size_t)count * sizeof *out->name);
#define NOTHING(name)

static void read_model(FILE *file, struct pour_model *to) {
    POUR_MODEL(READ_NUMBER, READ_NUMBER, READ_COLUMN, READ_COLUMN, READ_COLUMN)
}

static void read_draws(FILE *file, struct pour_draws *to) {
    POUR_DRAWS(READ_NUMBER, READ_NUMBER, READ_COLUMN, READ_COLUMN, READ_COLUMN)
}

int main(int argc, char **argv) {
    struct pour_model model;
    struct pour_draws draws;
    struct pour_result result, *out = &result;
    struct pour_failure failure;
    int64_t range[3], count, i;
    FILE *file = argc == 2 ? fopen(argv[1], "rb") : NULL;
    if (!file)
        return 2;
    get(file, range, sizeof range);
    if (range[0] < 0 || range[1] < range[0] || range[1] - range[0] > 1000000)
        return 6;
    read_model(file, &model);
    read_draws(file, &draws);
    fclose(file);
    draws.level = draws.level < 0 || draws.level > pour_level() ? pour_level() : draws.level;
    count = range[1] - range[0];
    POUR_RESULT(NOTHING, NOTHING, ROOM, ROOM, NOTHING)
    out->highest_rise_m_per_h = block_of((size_t)(count * model.panels_count) * sizeof(double));
    out->watched_min = block_of((size_t)(count * model.watched_count) * sizeof(double));
    out->edge_set_margin_min = block_of((size_t)(count * model.edges_count) * sizeof(double));
    out->edge_specified_margin_min = block_of((size_t)(count * model.edges_count) * sizeof(double));
    for (i = 0; i < range[2]; i++)
        pour_run(&model, 1, &draws, range[0], range[1], out, &failure);
    fwrite(&failure, sizeof failure, 1, stdout);
    if (failure.code == POUR_DONE) {
        fwrite(out->end_of_pour_min, sizeof(double), (size_t)count, stdout);
        fwrite(out->cold_joint_area_m2, sizeof(double), (size_t)count, stdout);
        fwrite(out->finishing_end_min, sizeof(double), (size_t)count, stdout);
        fwrite(out->loads_count, sizeof(int64_t), (size_t)count, stdout);
        fwrite(out->edge_set_margin_min, sizeof(double), (size_t)(count * model.edges_count), stdout);
    }
    while (blocks_count > 0)
        free(blocks[--blocks_count]);
    return 0;
}
