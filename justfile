# Short names for the commands of this repository; `.ci/run` holds what must pass and does not need `just`.

version := `cargo pkgid -p evenpull | sed 's/.*[#@]//'`
target := `rustc -vV | sed -n 's/^host: //p'`

# List the recipes
default:
    @just --list

# Run all tests
test *ARGS:
    cargo test --workspace {{ ARGS }}

# Formatting and lints
lint:
    cargo fmt --all --check
    cargo clippy --workspace --all-targets -- -D warnings

# Run every benchmark once, so that none rots
bench-check:
    cargo test --workspace --bench '*'

# Everything that must hold before a change is taken
ci:
    .ci/run

# Write the sample recordings and their README again
samples:
    cargo run -p evenpull-model --example samples -- data-samples

# Review every sample into reports/
review-samples:
    #!/usr/bin/env bash
    set -euo pipefail
    cargo build --release
    for log in data-samples/*.csv; do
        target/release/evenpull review "$log"
    done

# Write the committed example reports again
example:
    cargo run --release -- review data-samples/hs-01-four-out-of-balance.csv --out reports/examples
    cargo run --release -- plan data-samples/hs-01-four-out-of-balance.csv --machine data-samples/hs-01.toml --out reports/examples

# Write the words of the example page again, as they are read out; read what changed before you commit it
accessible-text:
    EVENPULL_RENEW=1 cargo test --workspace -- the_example_page_reads_out_as_it_was_accepted
    git diff --stat tests/browser/hs-01-page.txt

# Write the committed example pages of visits again: two visits, many visits, the ranking of the demo workshop
example-visits:
    #!/usr/bin/env bash
    set -euo pipefail
    cargo build --release
    program="$PWD/target/release/evenpull"
    demo=$(mktemp -d)
    trap 'rm -rf "$demo"' EXIT
    "$program" demo "$demo"
    "$program" fleet --list "$demo/visits.csv" --machines "$demo/machines" --out "$demo/fleet"
    cp "$demo"/fleet/fleet{.html,-strips.png,.json,.csv} reports/examples/
    "$program" compare --book "$demo/fleet/book" --id HS-03 --out reports/examples
    "$program" compare "$demo"/logs/hs-08-2024-{07,10}-11.csv --machine "$demo/machines/HS-08.toml" --out reports/examples

# Write the committed example worksheet and key again
example-lesson:
    cargo run --release -- lesson leak-at-idle --out reports/examples

# Pack binary, completions, man pages and licences into target/dist
dist:
    #!/usr/bin/env bash
    set -euo pipefail
    cargo build --release --locked -p evenpull
    name="evenpull-{{ version }}-{{ target }}"
    folder="target/dist/$name"
    rm -rf "$folder"
    mkdir -p "$folder/licences"
    program=evenpull
    case "{{ target }}" in *windows*) program=evenpull.exe ;; esac
    cp "target/release/$program" README.md CHANGELOG.md LICENSE-MIT LICENSE-APACHE "$folder/"
    "$folder/$program" generate completions "$folder/completions" >/dev/null
    "$folder/$program" generate man "$folder/man" >/dev/null
    cp crates/report/fonts/OFL.txt "$folder/licences/fonts-OFL.txt"
    # What is linked in, with its licence, and the licence texts as they were published.
    packages="$folder/licences/packages.txt"
    cargo tree --locked -p evenpull -e normal --prefix none --no-dedupe -f '{p} {l}' |
        sed -E 's/ \((proc-macro|\*)\)//g' | grep -v '^evenpull' | sort -u > "$packages"
    sed -E 's/^([^ ]+) v([^ ]+).*/\1-\2/' "$packages" | while read -r package; do
        for text in "${CARGO_HOME:-$HOME/.cargo}"/registry/src/*/"$package"/{LICEN,COPYING,NOTICE}*; do
            [ -f "$text" ] || continue
            mkdir -p "$folder/licences/$package"
            cp "$text" "$folder/licences/$package/"
        done
    done
    tar -C target/dist -czf "target/dist/$name.tar.gz" "$name"
    echo "target/dist/$name.tar.gz"
