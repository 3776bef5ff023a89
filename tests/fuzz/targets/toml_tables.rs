//! The reader under every TOML file of ours: any text gives a value or faults that lie in the text.
#![no_main]

use libfuzzer_sys::fuzz_target;
use underfoot::fault::{Reader, Source, TableView};

fuzz_target!(|text: &str| {
    let source = Source { name: "-", text };
    let reader = Reader::new(&source);
    let table = reader.parse();
    let view = TableView::new(&reader, table.get_ref(), 0..0);
    view.need_string("title", "\"Name\"");
    view.number("tempo", 20.0..=300.0, "quarters a minute");
    view.integer::<u8>("switches", 1..=4, "switches");
    view.boolean("bass");
    view.strings("bars");
    view.one_of("feel", &[("swing", 1), ("straight", 2)]);
    for inner in view
        .tables("section")
        .iter()
        .chain(view.table("help").iter())
    {
        if let Some(name) = inner.string("name") {
            let _ = source.place(name.offset(name.value.len()));
        }
        inner.finish();
    }
    view.finish();
    if let Err(faults) = reader.conclude(Some(())) {
        assert!(!faults.0.is_empty());
        let lines = text.matches('\n').count() + 1;
        for fault in faults.0 {
            assert!(
                (1..=lines).contains(&fault.line) && fault.column >= 1,
                "{fault}"
            );
        }
    }
});
